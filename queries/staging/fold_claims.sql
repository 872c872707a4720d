-- The current row of each claims key: for each column, its value in the newest
-- version whose file had that column at all.
-- grain:  one row per key
-- reads:  claims_versions, batches, touched
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
    from claims_versions as versions
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
            ranked.claim_no, 'claim_no', ranked.rank, ranked.present
        ) as claim_no,
        fold(
            ranked.reported_on, 'reported_on', ranked.rank, ranked.present
        ) as reported_on,
        fold(
            ranked.serial, 'serial', ranked.rank, ranked.present
        ) as serial,
        fold(
            ranked.model, 'model', ranked.rank, ranked.present
        ) as model,
        fold(
            ranked.model_year, 'model_year', ranked.rank, ranked.present
        ) as model_year,
        fold(
            ranked.in_service_date, 'in_service_date', ranked.rank, ranked.present
        ) as in_service_date,
        fold(
            ranked.failed_on, 'failed_on', ranked.rank, ranked.present
        ) as failed_on,
        fold(
            ranked.decided_on, 'decided_on', ranked.rank, ranked.present
        ) as decided_on,
        fold(
            ranked.closed_on, 'closed_on', ranked.rank, ranked.present
        ) as closed_on,
        fold(
            ranked.status, 'status', ranked.rank, ranked.present
        ) as status,
        fold(
            ranked.decision_reason, 'decision_reason', ranked.rank, ranked.present
        ) as decision_reason,
        fold(
            ranked.amount_requested, 'amount_requested', ranked.rank, ranked.present
        ) as amount_requested,
        fold(
            ranked.amount_approved, 'amount_approved', ranked.rank, ranked.present
        ) as amount_approved,
        fold(
            ranked.narrative, 'narrative', ranked.rank, ranked.present
        ) as narrative,
        fold(
            ranked.technician_note, 'technician_note', ranked.rank, ranked.present
        ) as technician_note,
        fold(
            ranked.resolution, 'resolution', ranked.rank, ranked.present
        ) as resolution,
        fold(
            ranked.usage, 'usage', ranked.rank, ranked.present
        ) as usage,
        fold(
            ranked.usage_unit, 'usage_unit', ranked.rank, ranked.present
        ) as usage_unit,
        fold(
            ranked.region, 'region', ranked.rank, ranked.present
        ) as region,
        fold(
            ranked.dealer, 'dealer', ranked.rank, ranked.present
        ) as dealer,
        fold(
            ranked.part_no, 'part_no', ranked.rank, ranked.present
        ) as part_no,
        fold(
            ranked.quantity, 'quantity', ranked.rank, ranked.present
        ) as quantity,
        fold(
            ranked.cost_parts, 'cost_parts', ranked.rank, ranked.present
        ) as cost_parts,
        fold(
            ranked.cost_labour, 'cost_labour', ranked.rank, ranked.present
        ) as cost_labour,
        fold(
            ranked.cost_freight, 'cost_freight', ranked.rank, ranked.present
        ) as cost_freight,
        fold(
            ranked.cost_total, 'cost_total', ranked.rank, ranked.present
        ) as cost_total,
        fold(
            ranked.currency, 'currency', ranked.rank, ranked.present
        ) as currency,
        fold(
            ranked.goodwill, 'goodwill', ranked.rank, ranked.present
        ) as goodwill,
        fold(
            ranked.updated_at, 'updated_at', ranked.rank, ranked.present
        ) as updated_at,
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
                claim_no := folded_rows.claim_no,
                reported_on := folded_rows.reported_on,
                serial := folded_rows.serial,
                model := folded_rows.model,
                model_year := folded_rows.model_year,
                in_service_date := folded_rows.in_service_date,
                failed_on := folded_rows.failed_on,
                decided_on := folded_rows.decided_on,
                closed_on := folded_rows.closed_on,
                status := folded_rows.status,
                decision_reason := folded_rows.decision_reason,
                amount_requested := folded_rows.amount_requested,
                amount_approved := folded_rows.amount_approved,
                narrative := folded_rows.narrative,
                technician_note := folded_rows.technician_note,
                resolution := folded_rows.resolution,
                usage := folded_rows.usage,
                usage_unit := folded_rows.usage_unit,
                region := folded_rows.region,
                dealer := folded_rows.dealer,
                part_no := folded_rows.part_no,
                quantity := folded_rows.quantity,
                cost_parts := folded_rows.cost_parts,
                cost_labour := folded_rows.cost_labour,
                cost_freight := folded_rows.cost_freight,
                cost_total := folded_rows.cost_total,
                currency := folded_rows.currency,
                goodwill := folded_rows.goodwill,
                updated_at := folded_rows.updated_at
            ))
        )) as folded_digest,
        folded_rows.* exclude (row_key),
        coalesce(issues_kept.issues, []) as issues
    from folded_rows
    left join issues_kept
        on folded_rows.row_key = issues_kept.row_key
)

select * from final;
