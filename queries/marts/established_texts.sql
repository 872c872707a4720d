-- Texts of claims whose component is known without them: reviewed, inspected, or told
-- by the part that was replaced. The newest come first, and no more than asked for.
-- grain:  one row per claim
-- reads:  classified_known, claims_known
-- params: most (integer)
with final as (
    select
        classified.claim_no,
        classified.component,
        classified.other_components,
        claims.narrative,
        claims.technician_note,
        claims.resolution,
        claims.reported_on
    from classified_known as classified
    inner join claims_known as claims  -- one row a claim
        on classified.claim_no = claims.claim_no
    where
        classified.source in ('label', 'finding', 'part')
        and classified.component <> 'unclassified'
        and coalesce(
            claims.narrative, claims.technician_note, claims.resolution
        ) is not null
)

select * from final
order by reported_on desc, claim_no
limit $most;
