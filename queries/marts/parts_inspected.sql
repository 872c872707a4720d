-- Of the claims closed in a span of days with a part noted, those of which a part had
-- been inspected by the cut-off.
-- grain:  one row
-- reads:  int_claims, claims_known, claim_parts_known, findings_known
-- params: from_day (date), to_day (date), as_of (date)
with final as (
    select
        count(*) as n_closed,
        count(*) filter (
            where claims.claim_no in (
                select findings.claim_no
                from findings_known as findings
                where coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
            )
        ) as n_inspected
    from int_claims as claims
    inner join claims_known as known  -- every claim is a known one
        on claims.claim_no = known.claim_no
    where
        claims.is_wanted
        and claims.closed_on between $from_day and $to_day
        and coalesce(claims.status, 'open') not in ('denied', 'cancelled')
        and (
            known.part_no is not null
            or claims.claim_no in (
                select parts.claim_no
                from claim_parts_known as parts
            )
        )
)

select * from final;
