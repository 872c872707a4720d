-- For readers of a warehouse of an earlier version: nothing was erased from it.
create or replace temp table erasures (
    erasure varchar,
    salt varchar,
    erased_at varchar,
    what varchar,
    reason varchar,
    proof json
);

create or replace temp table erased_keys (
    erasure varchar,
    salt varchar,
    kind varchar,
    digest varchar,
    stand_in varchar
);

create or replace temp table erased_files (
    batch integer,
    sha256 varchar
);

create or replace temp table kept_readings (
    claim_no varchar,
    known_on date,
    decided varchar,
    parts varchar,
    with_model boolean,
    component varchar,
    failure_mode varchar,
    other_components varchar,
    safety varchar,
    source varchar,
    confidence double,
    evidence varchar,
    symptoms varchar
);
