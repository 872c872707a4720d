-- What was erased: when, why and how much, and salted digests by which a later load
-- knows the erased again. No identifier of a person and no text stands here.

create table if not exists erasures (
    erasure varchar not null,
    salt varchar not null,
    erased_at varchar not null,
    what varchar not null,
    reason varchar not null,
    proof json not null
);

create table if not exists erased_keys (
    erasure varchar not null,
    salt varchar not null,
    kind varchar not null,
    digest varchar not null,
    stand_in varchar not null
);

-- bytes of files as they were before rows were taken out of them
create table if not exists erased_files (
    batch integer not null,
    sha256 varchar not null
);

-- how claims were read before their texts went, at each state that a question may ask
create table if not exists kept_readings (
    claim_no varchar not null,
    known_on date not null,
    decided varchar not null,
    parts varchar not null,
    with_model boolean not null,
    component varchar not null,
    failure_mode varchar not null,
    other_components varchar not null,
    safety varchar not null,
    source varchar not null,
    confidence double not null,
    evidence varchar not null,
    symptoms varchar not null
);
