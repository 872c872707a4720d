-- Type the rows of a unit_changes file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_unit_changes, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_unit_changes as given,
        raw_unit_changes.serial,
        raw_unit_changes.change_no,
        as_day('done_on', raw_unit_changes.done_on) as done_on
    from raw_unit_changes
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.serial,
        typed.change_no,
        typed.done_on,
        cast(typed.given.extra as json) as extra,
        case
            when typed.serial is null then 'serial'
            when typed.change_no is null then 'change_no'
        end as reject_column,
        case
            when typed.serial is null then typed.given.serial
            when typed.change_no is null then typed.given.change_no
        end as reject_value,
        case
            when typed.given.serial is null then 'serial is missing'
            when typed.given.change_no is null then 'change_no is missing'
        end as reject_reason,
        list_filter([
            fault(
                'done_on', typed.given.done_on,
                typed.done_on is null,
                'done_on is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.serial as varchar),
            cast(typed.change_no as varchar)
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                serial := typed.serial,
                change_no := typed.change_no,
                done_on := typed.done_on
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
