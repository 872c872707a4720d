-- Claims by month of report, component, what they were read as and what decided.
-- grain:  one row per month, component, source, component read and whether counted
-- reads:  int_claims_read
with final as (
    select
        claims.month,
        claims.component,
        claims.source,
        claims.component_read,
        claims.is_counted,
        count(*) as n_claims
    from int_claims_read as claims
    group by
        claims.month,
        claims.component,
        claims.source,
        claims.component_read,
        claims.is_counted
)

select * from final
order by month, component, source, component_read, is_counted;
