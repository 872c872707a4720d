-- Units that came back again and again for one component.
-- grain:  one row per unit, component and currency of its costs
-- reads:  int_repeat_events, int_repeat_claims, int_units
-- params: least_events (integer)
with units_often as (
    select
        repairs.serial_key,
        repairs.component,
        count(*) as n_events,
        min(repairs.failed_on) as first_failed_on,
        max(repairs.failed_on) as last_failed_on
    from int_repeat_events as repairs
    group by repairs.serial_key, repairs.component
    having count(*) >= $least_events
),

costs as (
    select
        claims.serial_key,
        claims.component,
        claims.currency,
        count(*) as n_claims,
        count(*) filter (where claims.cost is null) as n_without_cost,
        cast(
            sum(case when claims.cost < 0 then 0 else claims.cost end) as double
        ) as cost
    from int_repeat_claims as claims
    group by claims.serial_key, claims.component, claims.currency
),

final as (
    select
        units.serial,
        units.model,
        units.model_year,
        often.component,
        often.n_events,
        often.first_failed_on,
        often.last_failed_on,
        costs.n_claims,
        costs.n_without_cost,
        costs.cost,
        costs.currency
    from units_often as often
    inner join int_units as units  -- counted claims have a unit
        on often.serial_key = units.serial_key
    inner join costs  -- every event is made of claims
        on
            often.serial_key = costs.serial_key
            and often.component = costs.component
)

select * from final
order by n_events desc, serial, component, currency;
