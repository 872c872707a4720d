-- The claims drawn for review, as they stood when they were drawn, and those drawn
-- for a second review.

create table if not exists review_samples (
    sample varchar not null,
    place integer not null,
    claim_no varchar not null,
    stratum varchar not null,
    probability double not null,
    reason varchar not null,
    component varchar not null,
    failure_mode varchar not null,
    source varchar not null,
    confidence double not null,
    safety varchar not null,
    evidence varchar not null,
    terms_digest varchar not null,
    as_of date not null,
    queue_size integer not null,
    audit_size integer not null
);

create table if not exists review_repeats (
    sample varchar not null,
    place integer not null,
    claim_no varchar not null,
    as_of date not null,
    repeat_size integer not null
);
