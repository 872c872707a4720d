-- The current row of each unit_changes key: for each column, its value in the newest
-- version whose file had that column at all.
-- grain:  one row per key
-- reads:  unit_changes_versions, batches, touched
-- params: as_known (date), only_touched (boolean)
create or replace temp table folded as
with ranked as (
    select
        versions.*,
        batches.columns as present,
        row_number() over (
            partition by versions.row_key
            order by
                versions.fact_at, versions.known_on, versions.batch,
                versions.source_row
        ) as rank
    from unit_changes_versions as versions
    inner join batches  -- every version belongs to a batch
        on versions.batch = batches.batch
    where
        versions.known_on <= $as_known
        and (
            not $only_touched
            or versions.row_key in (select touched.row_key from touched)
        )
),

-- a fault of a column stands until a newer file has that column
issues_listed as (
    select
        ranked.row_key,
        ranked.rank,
        unnest(ranked.issues) as issue
    from ranked
    where len(ranked.issues) > 0
),

issues_kept as (
    select
        issues_listed.row_key,
        list(
            issues_listed.issue order by issues_listed.rank, issues_listed.issue
        ) as issues
    from issues_listed
    where
        not exists (
            select 1
            from ranked as later
            where
                later.row_key = issues_listed.row_key
                and later.rank > issues_listed.rank
                and list_contains(later.present, issues_listed.issue.column_name)
        )
    group by issues_listed.row_key
),

folded_rows as (
    select
        ranked.row_key,
        max(ranked.known_on) as known_on,
        min(ranked.batch) as first_batch,
        max(ranked.batch) as last_batch,
        arg_max(ranked.source_row, ranked.rank) as source_row,
        fold(
            ranked.serial, 'serial', ranked.rank, ranked.present
        ) as serial,
        fold(
            ranked.change_no, 'change_no', ranked.rank, ranked.present
        ) as change_no,
        fold(
            ranked.done_on, 'done_on', ranked.rank, ranked.present
        ) as done_on,
        arg_max(ranked.extra, ranked.rank) as extra
    from ranked
    group by ranked.row_key
),

final as (
    select
        folded_rows.row_key,
        md5(concat_ws(
            chr(31), folded_rows.extra,
            to_json(struct_pack(
                serial := folded_rows.serial,
                change_no := folded_rows.change_no,
                done_on := folded_rows.done_on
            ))
        )) as folded_digest,
        folded_rows.* exclude (row_key),
        coalesce(issues_kept.issues, []) as issues
    from folded_rows
    left join issues_kept
        on folded_rows.row_key = issues_kept.row_key
)

select * from final;
