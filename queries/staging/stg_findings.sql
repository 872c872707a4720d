-- Type the rows of a findings file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_findings, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_findings as given,
        raw_findings.claim_no,
        as_day('inspected_on', raw_findings.inspected_on) as inspected_on,
        raw_findings.part_no,
        as_word('finding', raw_findings.finding) as finding,
        raw_findings.component,
        raw_findings.failure_mode,
        raw_findings.note
    from raw_findings
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.claim_no,
        typed.inspected_on,
        typed.part_no,
        typed.finding,
        typed.component,
        typed.failure_mode,
        typed.note,
        cast(typed.given.extra as json) as extra,
        case
            when typed.claim_no is null then 'claim_no'
            when typed.finding is null then 'finding'
        end as reject_column,
        case
            when typed.claim_no is null then typed.given.claim_no
            when typed.finding is null then typed.given.finding
        end as reject_value,
        case
            when typed.given.claim_no is null then 'claim_no is missing'
            when typed.given.finding is null then 'finding is missing'
            when typed.finding is null
                then 'finding is no word of the vocabulary'
        end as reject_reason,
        list_filter([
            fault(
                'inspected_on', typed.given.inspected_on,
                typed.inspected_on is null,
                'inspected_on is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.claim_no as varchar),
            coalesce(cast(typed.inspected_on as varchar), ''),
            coalesce(cast(typed.part_no as varchar), '')
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                claim_no := typed.claim_no,
                inspected_on := typed.inspected_on,
                part_no := typed.part_no,
                finding := typed.finding,
                component := typed.component,
                failure_mode := typed.failure_mode,
                note := typed.note
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(typed.inspected_on as timestamp) as change_at
    from typed
)

select * from checked;
