-- Type the rows of a fitted_parts file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_fitted_parts, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_fitted_parts as given,
        raw_fitted_parts.serial,
        raw_fitted_parts.component,
        raw_fitted_parts.part_no,
        raw_fitted_parts.supplier,
        raw_fitted_parts.lot,
        raw_fitted_parts.component_serial,
        as_day('fitted_on', raw_fitted_parts.fitted_on) as fitted_on,
        as_day('removed_on', raw_fitted_parts.removed_on) as removed_on
    from raw_fitted_parts
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.serial,
        typed.component,
        typed.part_no,
        typed.supplier,
        typed.lot,
        typed.component_serial,
        typed.fitted_on,
        typed.removed_on,
        cast(typed.given.extra as json) as extra,
        case
            when typed.serial is null then 'serial'
            when typed.component is null then 'component'
        end as reject_column,
        case
            when typed.serial is null then typed.given.serial
            when typed.component is null then typed.given.component
        end as reject_value,
        case
            when typed.given.serial is null then 'serial is missing'
            when typed.given.component is null then 'component is missing'
        end as reject_reason,
        list_filter([
            fault(
                'fitted_on', typed.given.fitted_on,
                typed.fitted_on is null,
                'fitted_on is not a date'
            ),
            fault(
                'removed_on', typed.given.removed_on,
                typed.removed_on is null,
                'removed_on is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.serial as varchar),
            cast(typed.component as varchar),
            coalesce(cast(typed.part_no as varchar), ''),
            coalesce(cast(typed.component_serial as varchar), ''),
            coalesce(cast(typed.fitted_on as varchar), '')
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                serial := typed.serial,
                component := typed.component,
                part_no := typed.part_no,
                supplier := typed.supplier,
                lot := typed.lot,
                component_serial := typed.component_serial,
                fitted_on := typed.fitted_on,
                removed_on := typed.removed_on
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
