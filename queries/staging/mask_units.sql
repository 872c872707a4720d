-- Take what is erased out of every version of the units: identifiers become
-- stand-ins, what a person wrote goes, and key and digest are those that the same row
-- would get if it came again.
-- reads:  erasing, mentioned, batches, units_versions
-- writes: masked
create or replace temp table masked as
with marked as (
    select
        versions.rowid as place,
        serials.stand_in as serial_in,
        serials.plain is not null as is_erased,
        serials.plain is not null as is_whole,
        mentioned.place is not null as is_named,
        cast(mentioned.extra as json) as extra
    from units_versions as versions
    left join erasing as serials
        on serials.kind = 'serial' and upper(versions.serial) = serials.plain
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
            coalesce(marked.serial_in, versions.serial) as serial,
            case
                when not marked.is_whole then coalesce(marked.extra, versions.extra)
            end as extra,
            case
                when not (marked.is_whole or marked.is_named) then versions.issues
                else valueless(versions.issues)
            end as issues
        )
    from marked
    inner join units_versions as versions  -- only those
        on marked.place = versions.rowid
)

select
    masked_rows.place,
    masked_rows.row_key as old_key,
    masked_rows.* exclude (place) replace (
        upper(masked_rows.serial) as row_key,
        md5(concat_ws(
            chr(31), array_to_string(batches.columns, ','),
            cast(masked_rows.extra as varchar),
            to_json(struct_pack(
                serial := masked_rows.serial,
                model := masked_rows.model,
                model_year := masked_rows.model_year,
                generation := masked_rows.generation,
                build_date := masked_rows.build_date,
                build_lot := masked_rows.build_lot,
                plant := masked_rows.plant,
                ship_date := masked_rows.ship_date,
                in_service_date := masked_rows.in_service_date,
                region := masked_rows.region,
                dealer := masked_rows.dealer,
                retired_on := masked_rows.retired_on
            ))
        )) as row_digest
    )
from masked_rows
inner join batches  -- every version belongs to a batch
    on masked_rows.batch = batches.batch;
