-- Rows of the file that the warehouse does not hold yet, and the keys they touch.
-- A row is held if some version says the same at least as late. Where a later load
-- said otherwise of the same moment, that version counts only for the file that
-- brought it: another file that says it again takes it back.
-- reads:  kept, known_versions (the versions table of the kind)
-- params: known_on (date), batch (integer), is_known_file (boolean)
create or replace temp table new_versions as
with versions_ranked as (
    select
        known_versions.row_key,
        known_versions.row_digest,
        known_versions.fact_at,
        row_number() over (
            partition by known_versions.row_key, known_versions.fact_at
            order by
                known_versions.known_on desc,
                known_versions.batch desc,
                known_versions.source_row desc
        ) as preference
    from known_versions
    where
        known_versions.known_on <= $known_on
        and known_versions.row_key in (select kept.row_key from kept)
)

select
    kept.* exclude (change_at, reject_column, reject_value, reject_reason),
    cast($known_on as date) as known_on,
    cast($batch as integer) as batch
from kept
where
    not exists (
        select 1
        from versions_ranked
        where
            versions_ranked.row_key = kept.row_key
            and versions_ranked.row_digest = kept.row_digest
            and versions_ranked.fact_at >= kept.fact_at
            and (
                versions_ranked.preference = 1
                or versions_ranked.fact_at > kept.fact_at
                or $is_known_file
            )
    );

create or replace temp table touched as
select distinct new_versions.row_key
from new_versions;
