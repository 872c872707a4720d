-- Claims whose texts and numbers have been kept long enough: by their report, and by
-- the failure where no report is dated.
-- grain:  one row per claim
-- reads:  claims_current
-- params: before (date)
select claims.claim_no
from claims_current as claims
where
    coalesce(claims.reported_on, claims.failed_on) < $before
    and not starts_with(claims.claim_no, 'ERASED-')
order by claims.claim_no;
