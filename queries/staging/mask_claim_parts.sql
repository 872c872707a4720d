-- Take what is erased out of every version of the claim parts: identifiers become
-- stand-ins, what a person wrote goes, and key and digest are those that the same row
-- would get if it came again.
-- reads:  erasing, mentioned, batches, claim_parts_versions
-- writes: masked
create or replace temp table masked as
with marked as (
    select
        versions.rowid as place,
        claims.stand_in as claim_in,
        claims.plain is not null as is_erased,
        coalesce(claims.is_whole, false) as is_whole,
        mentioned.place is not null as is_named,
        cast(mentioned.extra as json) as extra
    from claim_parts_versions as versions
    left join erasing as claims
        on claims.kind = 'claim' and versions.claim_no = claims.plain
    left join mentioned
        on versions.rowid = mentioned.place
    where
        claims.plain is not null
        or mentioned.place is not null
),

masked_rows as (
    select
        marked.place,
        versions.* replace (
            coalesce(marked.claim_in, versions.claim_no) as claim_no,
            case
                when not marked.is_whole then coalesce(marked.extra, versions.extra)
            end as extra,
            case
                when not (marked.is_whole or marked.is_named) then versions.issues
                else valueless(versions.issues)
            end as issues
        )
    from marked
    inner join claim_parts_versions as versions  -- only those
        on marked.place = versions.rowid
)

select
    masked_rows.place,
    masked_rows.row_key as old_key,
    masked_rows.* exclude (place) replace (
        concat_ws(
            chr(31),
            cast(masked_rows.claim_no as varchar),
            cast(masked_rows.part_no as varchar)
        ) as row_key,
        md5(concat_ws(
            chr(31), array_to_string(batches.columns, ','),
            cast(masked_rows.extra as varchar),
            to_json(struct_pack(
                claim_no := masked_rows.claim_no,
                part_no := masked_rows.part_no,
                quantity := masked_rows.quantity,
                unit_cost := masked_rows.unit_cost,
                currency := masked_rows.currency
            ))
        )) as row_digest
    )
from masked_rows
inner join batches  -- every version belongs to a batch
    on masked_rows.batch = batches.batch;
