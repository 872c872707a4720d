-- Rows of the file that the warehouse does not hold yet, and the keys they touch.
-- reads:  kept, known_versions (the versions table of the kind)
-- params: known_on (date), batch (integer)
create or replace temp table new_versions as
select
    kept.* exclude (change_at, reject_column, reject_value, reject_reason),
    cast($known_on as date) as known_on,
    cast($batch as integer) as batch
from kept
where
    not exists (
        select 1
        from known_versions
        where
            known_versions.row_key = kept.row_key
            and known_versions.row_digest = kept.row_digest
            and known_versions.fact_at >= kept.fact_at
            and known_versions.known_on <= $known_on
    );

create or replace temp table touched as
select distinct new_versions.row_key
from new_versions;
