-- What each repair cost. An amount below 0 is no cost of a repair.
-- grain:  one row per repair, month of report and currency
-- reads:  int_repeat_events, int_repeat_claims
with final as (
    select
        repairs.repair_no,
        date_trunc('month', claims.reported_on) as month,
        claims.currency,
        count(*) filter (where claims.cost is null) as n_without_cost,
        cast(
            sum(case when claims.cost < 0 then 0 else claims.cost end) as double
        ) as cost
    from int_repeat_events as repairs
    inner join int_repeat_claims as claims  -- every repair is made of claims
        on
            repairs.serial_key = claims.serial_key
            and repairs.component = claims.component
            and repairs.failure_mode = claims.failure_mode
            and repairs.event_no = claims.event_no
    group by
        repairs.repair_no,
        date_trunc('month', claims.reported_on),
        claims.currency
)

select * from final
order by repair_no, month, currency;
