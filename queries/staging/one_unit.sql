-- All that is known of one unit, so that nothing else has to be counted for it. Its
-- first day in service is filled in, where it had to be estimated.
-- grain:  as the tables that are read
-- reads:  changes_known, units_known, claims_known, claim_parts_known, findings_known,
--         labels_known, unit_changes_known, fitted_parts_known, shipments_known
-- params: serial_key (varchar), in_service_date (date)
create or replace temp table units_of_register as
select
    units.serial,
    units.build_date
from units_known as units
where
    upper(units.serial) in (
        select upper(changes.effective_serial)
        from changes_known as changes
        where changes.effective_serial is not null
    );

create or replace temp table one_units as
select
    units.* replace (
        coalesce(units.in_service_date, $in_service_date) as in_service_date
    )
from units_known as units
where upper(units.serial) = $serial_key;

create or replace temp table one_claims as
select claims.*
from claims_known as claims
where upper(claims.serial) = $serial_key;

create or replace temp table one_claim_parts as
select parts.*
from claim_parts_known as parts
where parts.claim_no in (select one_claims.claim_no from one_claims);

create or replace temp table one_findings as
select findings.*
from findings_known as findings
where findings.claim_no in (select one_claims.claim_no from one_claims);

create or replace temp table one_labels as
select labels.*
from labels_known as labels
where labels.claim_no in (select one_claims.claim_no from one_claims);

create or replace temp table one_unit_changes as
select changes.*
from unit_changes_known as changes
where upper(changes.serial) = $serial_key;

create or replace temp table one_fitted_parts as
select fitted.*
from fitted_parts_known as fitted
where upper(fitted.serial) = $serial_key;

create or replace temp table one_shipments as
select shipments.*
from shipments_known as shipments
where false;
