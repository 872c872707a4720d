-- The claims drawn for review, as they were classified when they were drawn, and
-- whether the question looks at them.
-- grain:  one row per sample and claim
-- reads:  review_samples, int_claims
with final as (
    select
        drawn.sample,
        drawn.claim_no,
        drawn.stratum,
        drawn.probability,
        drawn.component,
        drawn.failure_mode,
        drawn.source,
        drawn.confidence,
        drawn.safety,
        drawn.terms_digest,
        coalesce(claims.is_wanted, false) as is_in_sight
    from review_samples as drawn
    left join int_claims as claims
        on drawn.claim_no = claims.claim_no
)

select * from final
order by sample, claim_no;
