-- What the claims of a component cost so far, and of what it is made. Cancelled and
-- denied claims cost nothing; what stands in no part of its own is the rest of a total.
-- grain:  one row per currency
-- reads:  int_claims, claims_known
-- params: component (varchar)
with claims_paid as (
    select
        claims.currency,
        claims.cost,
        coalesce(facts.cost_parts, 0) as cost_parts,
        coalesce(facts.cost_labour, 0) as cost_labour,
        coalesce(facts.cost_freight, 0) as cost_freight
    from int_claims as claims
    inner join claims_known as facts  -- the same claim
        on claims.claim_no = facts.claim_no
    where
        claims.is_wanted
        and claims.component = $component
        and claims.claim_class not in ('cancelled', 'denied')
        and claims.cost >= 0
),

final as (
    select
        coalesce(claims_paid.currency, '') as currency,
        count(*) as n_claims,
        cast(sum(claims_paid.cost) as double) as cost,
        cast(sum(claims_paid.cost_parts) as double) as cost_parts,
        cast(sum(claims_paid.cost_labour) as double) as cost_labour,
        cast(sum(claims_paid.cost_freight) as double) as cost_freight
    from claims_paid
    group by coalesce(claims_paid.currency, '')
)

select * from final
order by currency;
