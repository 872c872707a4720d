-- The tables of a warehouse: batches, every version of every row, the current
-- row of each key, rejected rows, classifications, and the alarms told by a run.

create table if not exists meta (
    key varchar primary key,
    value varchar not null
);

create table if not exists batches (
    batch integer primary key,
    file varchar not null,
    kind varchar not null,
    sha256 varchar not null,
    source varchar not null,
    known_on date not null,
    columns varchar[] not null,
    rows_read bigint not null,
    inserted bigint not null,
    updated bigint not null,
    unchanged bigint not null,
    superseded bigint not null,
    rejected bigint not null,
    skipped_lines bigint not null
);

create table if not exists rejected_rows (
    batch integer not null,
    source_row bigint not null,
    column_name varchar,
    value varchar,
    reason varchar not null
);

create table if not exists classifications (
    claim_no varchar not null,
    component varchar not null,
    failure_mode varchar not null,
    other_components varchar not null,
    safety varchar not null,
    source varchar not null,
    confidence double not null,
    evidence varchar not null,
    digest varchar not null
);

-- since version 3: what the owner saw, beside what it turned out to be
alter table classifications add column if not exists symptoms varchar default '';

create table if not exists signal_acknowledgements (
    component varchar not null,
    model varchar not null,
    as_of date not null,
    acknowledged_by varchar not null,
    reason varchar not null,
    until date
);

create table if not exists alarms_told (
    kind varchar not null,
    subject varchar not null
);

create table if not exists units_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    serial varchar,
    model varchar,
    model_year integer,
    generation varchar,
    build_date date,
    build_lot varchar,
    plant varchar,
    ship_date date,
    in_service_date date,
    region varchar,
    dealer varchar,
    retired_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists units_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    serial varchar,
    model varchar,
    model_year integer,
    generation varchar,
    build_date date,
    build_lot varchar,
    plant varchar,
    ship_date date,
    in_service_date date,
    region varchar,
    dealer varchar,
    retired_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists shipments_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    model varchar,
    model_year integer,
    month date,
    quantity integer,
    region varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists shipments_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    model varchar,
    model_year integer,
    month date,
    quantity integer,
    region varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists claims_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    reported_on date,
    serial varchar,
    model varchar,
    model_year integer,
    in_service_date date,
    failed_on date,
    decided_on date,
    closed_on date,
    status varchar,
    decision_reason varchar,
    amount_requested decimal(18, 4),
    amount_approved decimal(18, 4),
    narrative varchar,
    technician_note varchar,
    resolution varchar,
    usage double,
    usage_unit varchar,
    region varchar,
    dealer varchar,
    part_no varchar,
    quantity double,
    cost_parts decimal(18, 4),
    cost_labour decimal(18, 4),
    cost_freight decimal(18, 4),
    cost_total decimal(18, 4),
    currency varchar,
    goodwill varchar,
    updated_at timestamp,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists claims_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    reported_on date,
    serial varchar,
    model varchar,
    model_year integer,
    in_service_date date,
    failed_on date,
    decided_on date,
    closed_on date,
    status varchar,
    decision_reason varchar,
    amount_requested decimal(18, 4),
    amount_approved decimal(18, 4),
    narrative varchar,
    technician_note varchar,
    resolution varchar,
    usage double,
    usage_unit varchar,
    region varchar,
    dealer varchar,
    part_no varchar,
    quantity double,
    cost_parts decimal(18, 4),
    cost_labour decimal(18, 4),
    cost_freight decimal(18, 4),
    cost_total decimal(18, 4),
    currency varchar,
    goodwill varchar,
    updated_at timestamp,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists claim_parts_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    part_no varchar,
    quantity double,
    unit_cost decimal(18, 4),
    currency varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists claim_parts_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    part_no varchar,
    quantity double,
    unit_cost decimal(18, 4),
    currency varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists parts_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    part_no varchar,
    description varchar,
    component varchar,
    supplier varchar,
    generation varchar,
    superseded_by varchar,
    fits_model varchar,
    fits_from_year integer,
    fits_to_year integer,
    unit_cost decimal(18, 4),
    currency varchar,
    lead_time_days integer,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists parts_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    part_no varchar,
    description varchar,
    component varchar,
    supplier varchar,
    generation varchar,
    superseded_by varchar,
    fits_model varchar,
    fits_from_year integer,
    fits_to_year integer,
    unit_cost decimal(18, 4),
    currency varchar,
    lead_time_days integer,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists findings_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    inspected_on date,
    part_no varchar,
    finding varchar,
    component varchar,
    failure_mode varchar,
    note varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists findings_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    inspected_on date,
    part_no varchar,
    finding varchar,
    component varchar,
    failure_mode varchar,
    note varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists changes_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    change_no varchar,
    component varchar,
    description varchar,
    model varchar,
    effective_build_date date,
    effective_serial varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists changes_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    change_no varchar,
    component varchar,
    description varchar,
    model varchar,
    effective_build_date date,
    effective_serial varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists unit_changes_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    serial varchar,
    change_no varchar,
    done_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists unit_changes_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    serial varchar,
    change_no varchar,
    done_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists responses_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    supplier varchar,
    question_no varchar,
    component varchar,
    part_no varchar,
    claim_no varchar,
    asked_on date,
    due_on date,
    answered_on date,
    answer varchar,
    charged_on date,
    amount_charged decimal(18, 4),
    amount_accepted decimal(18, 4),
    amount_received decimal(18, 4),
    currency varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists responses_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    supplier varchar,
    question_no varchar,
    component varchar,
    part_no varchar,
    claim_no varchar,
    asked_on date,
    due_on date,
    answered_on date,
    answer varchar,
    charged_on date,
    amount_charged decimal(18, 4),
    amount_accepted decimal(18, 4),
    amount_received decimal(18, 4),
    currency varchar,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists fitted_parts_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    serial varchar,
    component varchar,
    part_no varchar,
    supplier varchar,
    lot varchar,
    component_serial varchar,
    fitted_on date,
    removed_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists fitted_parts_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    serial varchar,
    component varchar,
    part_no varchar,
    supplier varchar,
    lot varchar,
    component_serial varchar,
    fitted_on date,
    removed_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists labels_versions (
    row_key varchar not null,
    row_digest varchar not null,
    fact_at timestamp not null,
    known_on date not null,
    batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    component varchar,
    failure_mode varchar,
    reviewer varchar,
    reviewed_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);

create table if not exists labels_current (
    row_key varchar not null,
    folded_digest varchar not null,
    known_on date not null,
    first_batch integer not null,
    last_batch integer not null,
    source_row bigint not null,
    claim_no varchar,
    component varchar,
    failure_mode varchar,
    reviewer varchar,
    reviewed_on date,
    extra json,
    issues struct(column_name varchar, value varchar, reason varchar)[]
);
