-- Claims by the class that says whether the rates count them; the classes add up
-- to the claims known at the cut-off.
-- grain:  one row per class
-- reads:  int_claims
with final as (
    select
        claims.claim_class,
        count(*) as n_claims
    from int_claims as claims
    where claims.is_wanted
    group by claims.claim_class
)

select * from final
order by claim_class;
