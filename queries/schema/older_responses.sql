-- For readers of a warehouse of an earlier version: what suppliers answered, empty.
create or replace temp table responses_versions (
    row_key varchar,
    row_digest varchar,
    fact_at timestamp,
    known_on date,
    batch integer,
    source_row bigint,
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

-- a view, because a question gives the name to what it knows of
create or replace temp view responses_current as
select
    cast(null as varchar) as row_key,
    cast(null as date) as known_on,
    cast(null as varchar) as supplier,
    cast(null as varchar) as question_no,
    cast(null as varchar) as component,
    cast(null as varchar) as part_no,
    cast(null as varchar) as claim_no,
    cast(null as date) as asked_on,
    cast(null as date) as due_on,
    cast(null as date) as answered_on,
    cast(null as varchar) as answer,
    cast(null as date) as charged_on,
    cast(null as decimal(18, 4)) as amount_charged,
    cast(null as decimal(18, 4)) as amount_accepted,
    cast(null as decimal(18, 4)) as amount_received,
    cast(null as varchar) as currency,
    cast(null as json) as extra,
    cast(null as struct(column_name varchar, value varchar, reason varchar)[]) as issues
where false;
