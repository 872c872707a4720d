-- Type the rows of a labels file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_labels, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_labels as given,
        raw_labels.claim_no,
        raw_labels.component,
        raw_labels.failure_mode,
        raw_labels.reviewer,
        as_day('reviewed_on', raw_labels.reviewed_on) as reviewed_on
    from raw_labels
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.claim_no,
        typed.component,
        typed.failure_mode,
        typed.reviewer,
        typed.reviewed_on,
        cast(typed.given.extra as json) as extra,
        case
            when typed.claim_no is null then 'claim_no'
        end as reject_column,
        case
            when typed.claim_no is null then typed.given.claim_no
        end as reject_value,
        case
            when typed.given.claim_no is null then 'claim_no is missing'
        end as reject_reason,
        list_filter([
            fault(
                'reviewed_on', typed.given.reviewed_on,
                typed.reviewed_on is null,
                'reviewed_on is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.claim_no as varchar),
            coalesce(cast(typed.reviewer as varchar), '')
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                claim_no := typed.claim_no,
                component := typed.component,
                failure_mode := typed.failure_mode,
                reviewer := typed.reviewer,
                reviewed_on := typed.reviewed_on
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(typed.reviewed_on as timestamp) as change_at
    from typed
)

select * from checked;
