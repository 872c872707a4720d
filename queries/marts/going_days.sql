-- The days on which something became known of claims whose texts go.
-- grain:  one row per day
-- reads:  going (claim_no), and the versions of what tells of claims
with days as (
    select versions.known_on
    from claims_versions as versions
    where versions.claim_no in (select going.claim_no from going)
    union
    select versions.known_on
    from claim_parts_versions as versions
    where versions.claim_no in (select going.claim_no from going)
    union
    select versions.known_on
    from findings_versions as versions
    where versions.claim_no in (select going.claim_no from going)
    union
    select versions.known_on
    from labels_versions as versions
    where versions.claim_no in (select going.claim_no from going)
)

select days.known_on
from days
order by days.known_on;
