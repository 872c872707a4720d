-- Claims and their cost by component, currency and month of report. Cancelled and
-- denied claims cost nothing.
-- grain:  one row per component, month and currency
-- reads:  int_claims
with final as (
    select
        claims.component,
        date_trunc('month', claims.reported_on) as month,
        coalesce(claims.currency, '') as currency,
        count(*) as n_claims,
        count(*) filter (where claims.claim_class = 'counted') as n_counted,
        count(*) filter (where claims.cost is null) as n_without_cost,
        cast(
            sum(
                case
                    when claims.claim_class in ('cancelled', 'denied') then 0
                    when claims.cost < 0 then 0
                    else claims.cost
                end
            ) as double
        ) as cost
    from int_claims as claims
    where claims.is_wanted
    group by
        claims.component,
        date_trunc('month', claims.reported_on),
        coalesce(claims.currency, '')
)

select * from final
order by component, month, currency;
