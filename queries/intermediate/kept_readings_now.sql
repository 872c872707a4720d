-- How the claims are read in this state, to be kept when their texts go.
-- grain:  one row per claim
-- reads:  classified_known, int_evidence
with final as (
    select
        classified.claim_no,
        evidence.known_on,
        evidence.decided,
        evidence.parts,
        classified.component,
        classified.failure_mode,
        classified.other_components,
        classified.safety,
        classified.source,
        classified.confidence,
        classified.symptoms
    from classified_known as classified
    inner join int_evidence as evidence  -- one row a claim
        on classified.claim_no = evidence.claim_no
)

select * from final
order by claim_no;
