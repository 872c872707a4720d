-- What the inspection of returned parts found, for the claims to be read.
-- grain:  one row per inspection
-- reads:  findings_known, unread_claims
-- params: as_of (date), batch (integer)
with final as (
    select
        findings.claim_no,
        findings.inspected_on,
        findings.part_no,
        findings.finding,
        findings.component,
        findings.failure_mode,
        findings.note
    from findings_known as findings
    inner join unread_claims  -- only those
        on findings.claim_no = unread_claims.claim_no
    where
        unread_claims.batch = $batch
        and coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
)

select * from final
order by claim_no, inspected_on, part_no;
