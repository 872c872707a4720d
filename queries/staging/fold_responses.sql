-- The current row of each responses key: for each column, its value in the newest
-- version whose file had that column at all.
-- grain:  one row per key
-- reads:  responses_versions, batches, touched
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
    from responses_versions as versions
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
            ranked.supplier, 'supplier', ranked.rank, ranked.present
        ) as supplier,
        fold(
            ranked.question_no, 'question_no', ranked.rank, ranked.present
        ) as question_no,
        fold(
            ranked.component, 'component', ranked.rank, ranked.present
        ) as component,
        fold(
            ranked.part_no, 'part_no', ranked.rank, ranked.present
        ) as part_no,
        fold(
            ranked.claim_no, 'claim_no', ranked.rank, ranked.present
        ) as claim_no,
        fold(
            ranked.asked_on, 'asked_on', ranked.rank, ranked.present
        ) as asked_on,
        fold(
            ranked.due_on, 'due_on', ranked.rank, ranked.present
        ) as due_on,
        fold(
            ranked.answered_on, 'answered_on', ranked.rank, ranked.present
        ) as answered_on,
        fold(
            ranked.answer, 'answer', ranked.rank, ranked.present
        ) as answer,
        fold(
            ranked.charged_on, 'charged_on', ranked.rank, ranked.present
        ) as charged_on,
        fold(
            ranked.amount_charged, 'amount_charged', ranked.rank, ranked.present
        ) as amount_charged,
        fold(
            ranked.amount_accepted, 'amount_accepted', ranked.rank, ranked.present
        ) as amount_accepted,
        fold(
            ranked.amount_received, 'amount_received', ranked.rank, ranked.present
        ) as amount_received,
        fold(
            ranked.currency, 'currency', ranked.rank, ranked.present
        ) as currency,
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
                supplier := folded_rows.supplier,
                question_no := folded_rows.question_no,
                component := folded_rows.component,
                part_no := folded_rows.part_no,
                claim_no := folded_rows.claim_no,
                asked_on := folded_rows.asked_on,
                due_on := folded_rows.due_on,
                answered_on := folded_rows.answered_on,
                answer := folded_rows.answer,
                charged_on := folded_rows.charged_on,
                amount_charged := folded_rows.amount_charged,
                amount_accepted := folded_rows.amount_accepted,
                amount_received := folded_rows.amount_received,
                currency := folded_rows.currency
            ))
        )) as folded_digest,
        folded_rows.* exclude (row_key),
        coalesce(issues_kept.issues, []) as issues
    from folded_rows
    left join issues_kept
        on folded_rows.row_key = issues_kept.row_key
)

select * from final;
