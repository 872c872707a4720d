-- The public views: canonical field names, one row per key, latest facts.

create or replace view units_now as
select
    serial,
    model,
    model_year,
    generation,
    build_date,
    build_lot,
    plant,
    ship_date,
    in_service_date,
    region,
    dealer,
    retired_on,
    extra
from units_current;

create or replace view shipments_now as
select
    model,
    model_year,
    month,
    quantity,
    region,
    extra
from shipments_current;

create or replace view claims_now as
select
    claim_no,
    reported_on,
    serial,
    model,
    model_year,
    in_service_date,
    failed_on,
    decided_on,
    closed_on,
    status,
    decision_reason,
    amount_requested,
    amount_approved,
    narrative,
    technician_note,
    resolution,
    usage,
    usage_unit,
    region,
    dealer,
    part_no,
    quantity,
    cost_parts,
    cost_labour,
    cost_freight,
    cost_total,
    currency,
    goodwill,
    updated_at,
    extra
from claims_current;

create or replace view claim_parts_now as
select
    claim_no,
    part_no,
    quantity,
    unit_cost,
    currency,
    extra
from claim_parts_current;

create or replace view parts_now as
select
    part_no,
    description,
    component,
    supplier,
    generation,
    superseded_by,
    fits_model,
    fits_from_year,
    fits_to_year,
    unit_cost,
    currency,
    lead_time_days,
    extra
from parts_current;

create or replace view findings_now as
select
    claim_no,
    inspected_on,
    part_no,
    finding,
    component,
    failure_mode,
    note,
    extra
from findings_current;

create or replace view changes_now as
select
    change_no,
    component,
    description,
    model,
    effective_build_date,
    effective_serial,
    extra
from changes_current;

create or replace view unit_changes_now as
select
    serial,
    change_no,
    done_on,
    extra
from unit_changes_current;

create or replace view responses_now as
select
    supplier,
    question_no,
    component,
    part_no,
    claim_no,
    asked_on,
    due_on,
    answered_on,
    answer,
    charged_on,
    amount_charged,
    amount_accepted,
    amount_received,
    currency,
    extra
from responses_current;

create or replace view fitted_parts_now as
select
    serial,
    component,
    part_no,
    supplier,
    lot,
    component_serial,
    fitted_on,
    removed_on,
    extra
from fitted_parts_current;

create or replace view labels_now as
select
    claim_no,
    component,
    failure_mode,
    reviewer,
    reviewed_on,
    extra
from labels_current;
