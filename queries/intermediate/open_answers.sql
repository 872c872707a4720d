-- What the terms said of one batch of the claims that they left open.
-- grain:  one row per claim
-- reads:  fresh_classifications, unread_claims
-- params: batch (integer)
with final as (
    select
        fresh.claim_no,
        fresh.component,
        fresh.failure_mode,
        fresh.other_components,
        fresh.safety,
        fresh.source,
        fresh.confidence,
        fresh.evidence,
        fresh.symptoms
    from fresh_classifications as fresh
    inner join unread_claims  -- only those
        on fresh.claim_no = unread_claims.claim_no
    where unread_claims.batch = $batch
)

select * from final
order by claim_no;
