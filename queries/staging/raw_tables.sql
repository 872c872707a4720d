-- Empty tables for a file as text: one row per record, nothing typed yet.

create or replace temp table raw_units (
    source_row bigint,
    serial varchar,
    model varchar,
    model_year varchar,
    generation varchar,
    build_date varchar,
    build_lot varchar,
    plant varchar,
    ship_date varchar,
    in_service_date varchar,
    region varchar,
    dealer varchar,
    retired_on varchar,
    extra varchar
);

create or replace temp table raw_shipments (
    source_row bigint,
    model varchar,
    model_year varchar,
    month varchar,
    quantity varchar,
    region varchar,
    extra varchar
);

create or replace temp table raw_claims (
    source_row bigint,
    claim_no varchar,
    reported_on varchar,
    serial varchar,
    model varchar,
    model_year varchar,
    in_service_date varchar,
    failed_on varchar,
    decided_on varchar,
    closed_on varchar,
    status varchar,
    decision_reason varchar,
    amount_requested varchar,
    amount_approved varchar,
    narrative varchar,
    technician_note varchar,
    resolution varchar,
    usage varchar,
    usage_unit varchar,
    region varchar,
    dealer varchar,
    part_no varchar,
    quantity varchar,
    cost_parts varchar,
    cost_labour varchar,
    cost_freight varchar,
    cost_total varchar,
    currency varchar,
    goodwill varchar,
    updated_at varchar,
    extra varchar
);

create or replace temp table raw_claim_parts (
    source_row bigint,
    claim_no varchar,
    part_no varchar,
    quantity varchar,
    unit_cost varchar,
    currency varchar,
    extra varchar
);

create or replace temp table raw_parts (
    source_row bigint,
    part_no varchar,
    description varchar,
    component varchar,
    supplier varchar,
    generation varchar,
    superseded_by varchar,
    fits_model varchar,
    fits_from_year varchar,
    fits_to_year varchar,
    unit_cost varchar,
    currency varchar,
    lead_time_days varchar,
    extra varchar
);

create or replace temp table raw_findings (
    source_row bigint,
    claim_no varchar,
    inspected_on varchar,
    part_no varchar,
    finding varchar,
    component varchar,
    failure_mode varchar,
    note varchar,
    extra varchar
);

create or replace temp table raw_changes (
    source_row bigint,
    change_no varchar,
    component varchar,
    description varchar,
    model varchar,
    effective_build_date varchar,
    effective_serial varchar,
    extra varchar
);

create or replace temp table raw_unit_changes (
    source_row bigint,
    serial varchar,
    change_no varchar,
    done_on varchar,
    extra varchar
);

create or replace temp table raw_responses (
    source_row bigint,
    supplier varchar,
    question_no varchar,
    component varchar,
    part_no varchar,
    claim_no varchar,
    asked_on varchar,
    due_on varchar,
    answered_on varchar,
    answer varchar,
    charged_on varchar,
    amount_charged varchar,
    amount_accepted varchar,
    amount_received varchar,
    currency varchar,
    extra varchar
);

create or replace temp table raw_fitted_parts (
    source_row bigint,
    serial varchar,
    component varchar,
    part_no varchar,
    supplier varchar,
    lot varchar,
    component_serial varchar,
    fitted_on varchar,
    removed_on varchar,
    extra varchar
);

create or replace temp table raw_labels (
    source_row bigint,
    claim_no varchar,
    component varchar,
    failure_mode varchar,
    reviewer varchar,
    reviewed_on varchar,
    extra varchar
);
