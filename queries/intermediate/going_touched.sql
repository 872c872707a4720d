-- The keys of one kind that tell of claims whose texts go.
-- grain:  one row per key
-- reads:  going (claim_no), known_versions (the versions of the kind)
create or replace temp table touched as
select distinct known_versions.row_key
from known_versions
where known_versions.claim_no in (select going.claim_no from going);
