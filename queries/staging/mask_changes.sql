-- Take what is erased out of every version of the changes: identifiers become
-- stand-ins, what a person wrote goes, and key and digest are those that the same row
-- would get if it came again.
-- reads:  erasing, mentioned, batches, changes_versions
-- writes: masked
create or replace temp table masked as
with marked as (
    select
        versions.rowid as place,
        serials.stand_in as serial_in,
        serials.plain is not null as is_erased,
        false as is_whole,
        mentioned.place is not null as is_named,
        mentioned.description,
        cast(mentioned.extra as json) as extra
    from changes_versions as versions
    left join erasing as serials
        on serials.kind = 'serial' and upper(versions.effective_serial) = serials.plain
    left join mentioned
        on versions.rowid = mentioned.place
    where
        serials.plain is not null
        or mentioned.place is not null
),

masked_rows as (
    select
        marked.place,
        versions.* replace (
            coalesce(marked.description, versions.description) as description,
            coalesce(marked.serial_in, versions.effective_serial) as effective_serial,
            case
                when not marked.is_whole then coalesce(marked.extra, versions.extra)
            end as extra,
            case
                when not (marked.is_whole or marked.is_named) then versions.issues
                else valueless(versions.issues)
            end as issues
        )
    from marked
    inner join changes_versions as versions  -- only those
        on marked.place = versions.rowid
)

select
    masked_rows.place,
    masked_rows.row_key as old_key,
    masked_rows.* exclude (place) replace (
        concat_ws(
            chr(31),
            cast(masked_rows.change_no as varchar),
            cast(masked_rows.component as varchar),
            coalesce(cast(masked_rows.model as varchar), '')
        ) as row_key,
        md5(concat_ws(
            chr(31), array_to_string(batches.columns, ','),
            cast(masked_rows.extra as varchar),
            to_json(struct_pack(
                change_no := masked_rows.change_no,
                component := masked_rows.component,
                description := masked_rows.description,
                model := masked_rows.model,
                effective_build_date := masked_rows.effective_build_date,
                effective_serial := masked_rows.effective_serial
            ))
        )) as row_digest
    )
from masked_rows
inner join batches  -- every version belongs to a batch
    on masked_rows.batch = batches.batch;
