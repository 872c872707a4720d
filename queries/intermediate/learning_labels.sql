-- Reviewed labels of the claims reported by the cut-off, with the day on which each
-- was known.
-- grain:  one row per claim and reviewer
-- reads:  labels_known, claims_known
-- params: as_of (date)
with final as (
    select
        labels.claim_no,
        labels.component,
        labels.failure_mode,
        labels.reviewer,
        labels.reviewed_on,
        labels.known_on,
        claims.reported_on
    from labels_known as labels
    inner join claims_known as claims  -- labels of no claim teach nothing
        on labels.claim_no = claims.claim_no
    where claims.reported_on <= $as_of
)

select * from final
order by claim_no, reviewer, reviewed_on;
