-- The first inspections of each claim.
-- grain:  one row per inspection
-- reads:  all_findings
-- params: most (integer)
-- writes: findings_known
create or replace temp table findings_known as
select all_findings.* exclude (inspection)
from all_findings
where all_findings.inspection <= $most;
