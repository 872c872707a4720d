-- Type the rows of a changes file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_changes, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_changes as given,
        raw_changes.change_no,
        raw_changes.component,
        raw_changes.description,
        raw_changes.model,
        as_day(
            'effective_build_date', raw_changes.effective_build_date
        ) as effective_build_date,
        raw_changes.effective_serial
    from raw_changes
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.change_no,
        typed.component,
        typed.description,
        typed.model,
        typed.effective_build_date,
        typed.effective_serial,
        cast(typed.given.extra as json) as extra,
        case
            when typed.change_no is null then 'change_no'
            when typed.component is null then 'component'
        end as reject_column,
        case
            when typed.change_no is null then typed.given.change_no
            when typed.component is null then typed.given.component
        end as reject_value,
        case
            when typed.given.change_no is null then 'change_no is missing'
            when typed.given.component is null then 'component is missing'
        end as reject_reason,
        list_filter([
            fault(
                'effective_build_date', typed.given.effective_build_date,
                typed.effective_build_date is null,
                'effective_build_date is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.change_no as varchar),
            cast(typed.component as varchar),
            coalesce(cast(typed.model as varchar), '')
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                change_no := typed.change_no,
                component := typed.component,
                description := typed.description,
                model := typed.model,
                effective_build_date := typed.effective_build_date,
                effective_serial := typed.effective_serial
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
