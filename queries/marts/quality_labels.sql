-- Every reviewed label of the claims in sight, with the verdict on danger where the
-- labels came with one.
-- grain:  one row per claim and reviewer
-- reads:  labels_known, int_claims
with final as (
    select
        labels.claim_no,
        labels.component,
        labels.failure_mode,
        coalesce(labels.reviewer, '') as reviewer,
        labels.reviewed_on,
        try_cast(labels.extra as map (varchar, varchar))['safety'] as safety
    from labels_known as labels
    inner join int_claims as claims  -- known at the cut-off
        on labels.claim_no = claims.claim_no
    where claims.is_wanted
)

select * from final
order by claim_no, reviewer;
