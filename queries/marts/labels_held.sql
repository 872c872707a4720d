-- Every answer that a person has given, the newest of each reviewer.
-- grain:  one row per claim and reviewer
-- reads:  labels_known
with final as (
    select
        labels.claim_no,
        coalesce(labels.reviewer, '') as reviewer,
        labels.reviewed_on,
        labels.component,
        labels.failure_mode
    from labels_known as labels
)

select * from final
order by claim_no, reviewed_on nulls first, reviewer;
