-- Component and failure mode of each claim known at the cut-off, with evidence.
-- grain:  one row per claim
-- reads:  classified_known, int_claims
with final as (
    select
        classified.claim_no,
        classified.component,
        classified.failure_mode,
        classified.other_components,
        classified.safety,
        classified.source,
        classified.confidence,
        classified.evidence
    from classified_known as classified
    inner join int_claims as claims  -- known at the cut-off
        on classified.claim_no = claims.claim_no
    where claims.is_wanted
)

select * from final
order by claim_no;
