-- Reviewed labels of the claims to be read.
-- grain:  one row per claim and reviewer
-- reads:  labels_known, unread_claims
-- params: batch (integer)
with final as (
    select
        labels.claim_no,
        labels.component,
        labels.failure_mode,
        labels.reviewer,
        labels.reviewed_on
    from labels_known as labels
    inner join unread_claims  -- only those
        on labels.claim_no = unread_claims.claim_no
    where unread_claims.batch = $batch
)

select * from final
order by claim_no, reviewer, reviewed_on;
