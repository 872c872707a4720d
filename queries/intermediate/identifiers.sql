-- Every serial and claim number that some table holds, as they are compared.
-- grain:  one row per kind and identifier
-- reads:  the versions of what tells of units and claims
create or replace temp table identifiers as
select distinct
    'serial' as kind,
    upper(units.serial) as plain
from units_versions as units
union
select distinct
    'serial' as kind,
    upper(claims.serial) as plain
from claims_versions as claims
where claims.serial is not null
union
select distinct
    'serial' as kind,
    upper(fitted.serial) as plain
from fitted_parts_versions as fitted
union
select distinct
    'serial' as kind,
    upper(changes.serial) as plain
from unit_changes_versions as changes
union
select distinct
    'claim' as kind,
    claims.claim_no as plain
from claims_versions as claims
union
select distinct
    'claim' as kind,
    findings.claim_no as plain
from findings_versions as findings
union
select distinct
    'claim' as kind,
    parts.claim_no as plain
from claim_parts_versions as parts
union
select distinct
    'claim' as kind,
    labels.claim_no as plain
from labels_versions as labels
union
select distinct
    'claim' as kind,
    responses.claim_no as plain
from responses_versions as responses
where responses.claim_no is not null
union
select distinct
    'serial' as kind,
    upper(changes.effective_serial) as plain
from changes_versions as changes
where changes.effective_serial is not null;
