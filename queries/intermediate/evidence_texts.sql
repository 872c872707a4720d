-- The texts of the claims that have to be read.
-- grain:  one row per claim
-- reads:  claims_known, unread_claims
-- params: batch (integer)
with final as (
    select
        claims.claim_no,
        claims.narrative,
        claims.technician_note,
        claims.resolution
    from claims_known as claims
    inner join unread_claims  -- only those
        on claims.claim_no = unread_claims.claim_no
    where unread_claims.batch = $batch
)

select * from final
order by claim_no;
