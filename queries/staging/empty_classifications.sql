-- No claim has been read yet in this session.
create or replace temp table fresh_classifications (
    claim_no varchar,
    component varchar,
    failure_mode varchar,
    other_components varchar,
    safety varchar,
    source varchar,
    confidence double,
    evidence varchar,
    symptoms varchar
);

-- Nor has the learned model been asked.
create or replace temp table asked_model (claim_no varchar);
