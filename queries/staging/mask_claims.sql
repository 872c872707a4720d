-- Take what is erased out of every version of the claims: identifiers become
-- stand-ins, what a person wrote goes, and key and digest are those that the same row
-- would get if it came again.
-- reads:  erasing, mentioned, batches, claims_versions
-- writes: masked
create or replace temp table masked as
with marked as (
    select
        versions.rowid as place,
        serials.stand_in as serial_in,
        claims.stand_in as claim_in,
        serials.plain is not null or claims.plain is not null as is_erased,
        serials.plain is not null or coalesce(claims.is_whole, false) as is_whole,
        mentioned.place is not null as is_named,
        mentioned.decision_reason,
        mentioned.narrative,
        mentioned.technician_note,
        mentioned.resolution,
        cast(mentioned.extra as json) as extra
    from claims_versions as versions
    left join erasing as serials
        on serials.kind = 'serial' and upper(versions.serial) = serials.plain
    left join erasing as claims
        on claims.kind = 'claim' and versions.claim_no = claims.plain
    left join mentioned
        on versions.rowid = mentioned.place
    where
        serials.plain is not null
        or claims.plain is not null
        or mentioned.place is not null
),

masked_rows as (
    select
        marked.place,
        versions.* replace (
            coalesce(marked.claim_in, versions.claim_no) as claim_no,
            coalesce(marked.serial_in, versions.serial) as serial,
            case
                when not marked.is_whole then coalesce(marked.decision_reason, versions.decision_reason)
            end as decision_reason,
            case
                when not marked.is_erased then coalesce(marked.narrative, versions.narrative)
            end as narrative,
            case
                when not marked.is_erased then coalesce(marked.technician_note, versions.technician_note)
            end as technician_note,
            case
                when not marked.is_erased then coalesce(marked.resolution, versions.resolution)
            end as resolution,
            case
                when not marked.is_whole then coalesce(marked.extra, versions.extra)
            end as extra,
            case
                when not (marked.is_whole or marked.is_named) then versions.issues
                else valueless(versions.issues)
            end as issues
        )
    from marked
    inner join claims_versions as versions  -- only those
        on marked.place = versions.rowid
)

select
    masked_rows.place,
    masked_rows.row_key as old_key,
    masked_rows.* exclude (place) replace (
        cast(masked_rows.claim_no as varchar) as row_key,
        md5(concat_ws(
            chr(31), array_to_string(batches.columns, ','),
            cast(masked_rows.extra as varchar),
            to_json(struct_pack(
                claim_no := masked_rows.claim_no,
                reported_on := masked_rows.reported_on,
                serial := masked_rows.serial,
                model := masked_rows.model,
                model_year := masked_rows.model_year,
                in_service_date := masked_rows.in_service_date,
                failed_on := masked_rows.failed_on,
                decided_on := masked_rows.decided_on,
                closed_on := masked_rows.closed_on,
                status := masked_rows.status,
                decision_reason := masked_rows.decision_reason,
                amount_requested := masked_rows.amount_requested,
                amount_approved := masked_rows.amount_approved,
                narrative := masked_rows.narrative,
                technician_note := masked_rows.technician_note,
                resolution := masked_rows.resolution,
                usage := masked_rows.usage,
                usage_unit := masked_rows.usage_unit,
                region := masked_rows.region,
                dealer := masked_rows.dealer,
                part_no := masked_rows.part_no,
                quantity := masked_rows.quantity,
                cost_parts := masked_rows.cost_parts,
                cost_labour := masked_rows.cost_labour,
                cost_freight := masked_rows.cost_freight,
                cost_total := masked_rows.cost_total,
                currency := masked_rows.currency,
                goodwill := masked_rows.goodwill,
                updated_at := masked_rows.updated_at
            ))
        )) as row_digest
    )
from masked_rows
inner join batches  -- every version belongs to a batch
    on masked_rows.batch = batches.batch;
