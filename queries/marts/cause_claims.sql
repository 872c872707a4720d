-- What every claim in sight turned out to be, to be kept beside the warehouse.
-- grain:  one row per claim
-- reads:  int_cause_claims
with final as (
    select
        claims.claim_no,
        claims.symptoms,
        claims.component,
        claims.failure_mode,
        claims.model,
        claims.generation,
        claims.age_days,
        claims.is_check,
        claims.is_established,
        claims.cost_labour,
        claims.currency,
        claims.came_back,
        claims.is_followed
    from int_cause_claims as claims
)

select * from final
order by claim_no;
