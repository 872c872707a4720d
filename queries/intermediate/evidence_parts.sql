-- The parts replaced in the claims that have to be read.
-- grain:  one row per claim and part
-- reads:  int_replaced, unread_claims
-- params: batch (integer)
with final as (
    select
        replaced.claim_no,
        replaced.part_no,
        replaced.quantity,
        replaced.description,
        replaced.component,
        replaced.is_unknown as unknown
    from int_replaced as replaced
    inner join unread_claims  -- only those
        on replaced.claim_no = unread_claims.claim_no
    where unread_claims.batch = $batch
)

select * from final
order by claim_no, part_no;
