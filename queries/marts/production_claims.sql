-- Claims that count, with what they cost and whose they are, by the production that
-- their units come from: for what stands beside a rising fault or a window.
-- grain:  one row per component, model, build month, region, dealer, month of report
--         and currency
-- reads:  int_claims, int_units, int_built, wanted (column_name, value)
with claims_built as (
    select
        claims.component,
        coalesce(units.model, '') as model,
        cast(date_trunc('month', built.built_on) as date) as built_on,
        coalesce(claims.region, '') as region,
        coalesce(claims.dealer, '') as dealer,
        cast(date_trunc('month', claims.reported_on) as date) as month,
        coalesce(claims.currency, '') as currency,
        claims.cost
    from int_claims as claims
    inner join int_units as units  -- counted claims have a unit
        on claims.serial_key = units.serial_key
    inner join int_built as built  -- a watched unit has a first day
        on claims.serial_key = built.serial_key
    where claims.claim_class = 'counted' and claims.is_wanted
),

final as (
    select
        claims_built.component,
        claims_built.model,
        claims_built.built_on,
        claims_built.region,
        claims_built.dealer,
        claims_built.month,
        claims_built.currency,
        count(*) as n_claims,
        cast(coalesce(sum(claims_built.cost), 0) as double) as cost
    from claims_built
    group by
        claims_built.component,
        claims_built.model,
        claims_built.built_on,
        claims_built.region,
        claims_built.dealer,
        claims_built.month,
        claims_built.currency
)

select * from final
order by component, model, built_on, region, dealer, month, currency;
