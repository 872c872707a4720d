-- For readers of a warehouse of an earlier version: a table as it is now, and empty,
-- because other terms read what it holds.
-- reads:  classifications (before version 3)
create or replace temp table classifications as
select
    stored.*,
    '' as symptoms
from classifications as stored
where false;

create or replace temp table signal_acknowledgements (
    component varchar,
    model varchar,
    as_of date,
    acknowledged_by varchar,
    reason varchar,
    until date
);
