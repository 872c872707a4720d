-- Type the rows of a shipments file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_shipments, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_shipments as given,
        raw_shipments.model,
        as_whole('model_year', raw_shipments.model_year) as model_year,
        as_day('month', raw_shipments.month) as month,
        as_whole('quantity', raw_shipments.quantity) as quantity,
        raw_shipments.region
    from raw_shipments
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.model,
        typed.model_year,
        typed.month,
        typed.quantity,
        typed.region,
        cast(typed.given.extra as json) as extra,
        case
            when typed.model is null then 'model'
            when typed.model_year is null then 'model_year'
            when typed.month is null then 'month'
            when typed.quantity is null then 'quantity'
        end as reject_column,
        case
            when typed.model is null then typed.given.model
            when typed.model_year is null then typed.given.model_year
            when typed.month is null then typed.given.month
            when typed.quantity is null then typed.given.quantity
        end as reject_value,
        case
            when typed.given.model is null then 'model is missing'
            when typed.given.model_year is null then 'model_year is missing'
            when typed.model_year is null
                then 'model_year is not a whole number'
            when typed.given.month is null then 'month is missing'
            when typed.month is null
                then 'month is not a date'
            when typed.given.quantity is null then 'quantity is missing'
            when typed.quantity is null
                then 'quantity is not a whole number'
        end as reject_reason,
        cast(
            [] as struct(column_name varchar, value varchar, reason varchar)[]
        ) as issues,
        concat_ws(
            chr(31),
            cast(typed.model as varchar),
            cast(typed.model_year as varchar),
            cast(typed.month as varchar),
            coalesce(cast(typed.region as varchar), '')
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                model := typed.model,
                model_year := typed.model_year,
                month := typed.month,
                quantity := typed.quantity,
                region := typed.region
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
