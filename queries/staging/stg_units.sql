-- Type the rows of a units file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_units, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_units as given,
        raw_units.serial,
        raw_units.model,
        as_whole('model_year', raw_units.model_year) as model_year,
        raw_units.generation,
        as_day('build_date', raw_units.build_date) as build_date,
        raw_units.build_lot,
        raw_units.plant,
        as_day('ship_date', raw_units.ship_date) as ship_date,
        as_day('in_service_date', raw_units.in_service_date) as in_service_date,
        raw_units.region,
        raw_units.dealer,
        as_day('retired_on', raw_units.retired_on) as retired_on
    from raw_units
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.serial,
        typed.model,
        typed.model_year,
        typed.generation,
        typed.build_date,
        typed.build_lot,
        typed.plant,
        typed.ship_date,
        typed.in_service_date,
        typed.region,
        typed.dealer,
        typed.retired_on,
        cast(typed.given.extra as json) as extra,
        case
            when typed.serial is null then 'serial'
            when typed.model is null then 'model'
            when typed.model_year is null then 'model_year'
        end as reject_column,
        case
            when typed.serial is null then typed.given.serial
            when typed.model is null then typed.given.model
            when typed.model_year is null then typed.given.model_year
        end as reject_value,
        case
            when typed.given.serial is null then 'serial is missing'
            when typed.given.model is null then 'model is missing'
            when typed.given.model_year is null then 'model_year is missing'
            when typed.model_year is null
                then 'model_year is not a whole number'
        end as reject_reason,
        list_filter([
            fault(
                'build_date', typed.given.build_date,
                typed.build_date is null,
                'build_date is not a date'
            ),
            fault(
                'ship_date', typed.given.ship_date,
                typed.ship_date is null,
                'ship_date is not a date'
            ),
            fault(
                'in_service_date', typed.given.in_service_date,
                typed.in_service_date is null,
                'in_service_date is not a date'
            ),
            fault(
                'retired_on', typed.given.retired_on,
                typed.retired_on is null,
                'retired_on is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        upper(typed.serial) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                serial := typed.serial,
                model := typed.model,
                model_year := typed.model_year,
                generation := typed.generation,
                build_date := typed.build_date,
                build_lot := typed.build_lot,
                plant := typed.plant,
                ship_date := typed.ship_date,
                in_service_date := typed.in_service_date,
                region := typed.region,
                dealer := typed.dealer,
                retired_on := typed.retired_on
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
