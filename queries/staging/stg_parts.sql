-- Type the rows of a parts file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_parts, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_parts as given,
        raw_parts.part_no,
        raw_parts.description,
        raw_parts.component,
        raw_parts.supplier,
        raw_parts.generation,
        raw_parts.superseded_by,
        raw_parts.fits_model,
        as_whole('fits_from_year', raw_parts.fits_from_year) as fits_from_year,
        as_whole('fits_to_year', raw_parts.fits_to_year) as fits_to_year,
        as_money('unit_cost', raw_parts.unit_cost) as unit_cost,
        as_currency(raw_parts.currency) as currency,
        as_whole('lead_time_days', raw_parts.lead_time_days) as lead_time_days
    from raw_parts
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.part_no,
        typed.description,
        typed.component,
        typed.supplier,
        typed.generation,
        typed.superseded_by,
        typed.fits_model,
        typed.fits_from_year,
        typed.fits_to_year,
        typed.unit_cost,
        typed.currency,
        typed.lead_time_days,
        cast(typed.given.extra as json) as extra,
        case
            when typed.part_no is null then 'part_no'
        end as reject_column,
        case
            when typed.part_no is null then typed.given.part_no
        end as reject_value,
        case
            when typed.given.part_no is null then 'part_no is missing'
        end as reject_reason,
        list_filter([
            fault(
                'currency', typed.given.currency,
                typed.currency is null,
                'currency is not a code of ISO 4217'
            ),
            fault(
                'fits_from_year', typed.given.fits_from_year,
                typed.fits_from_year is null,
                'fits_from_year is not a whole number'
            ),
            fault(
                'fits_to_year', typed.given.fits_to_year,
                typed.fits_to_year is null,
                'fits_to_year is not a whole number'
            ),
            fault(
                'unit_cost', typed.given.unit_cost,
                typed.unit_cost is null,
                'unit_cost is not an amount'
            ),
            fault(
                'lead_time_days', typed.given.lead_time_days,
                typed.lead_time_days is null,
                'lead_time_days is not a whole number'
            )
        ], lambda issue: issue is not null) as issues,
        cast(typed.part_no as varchar) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                part_no := typed.part_no,
                description := typed.description,
                component := typed.component,
                supplier := typed.supplier,
                generation := typed.generation,
                superseded_by := typed.superseded_by,
                fits_model := typed.fits_model,
                fits_from_year := typed.fits_from_year,
                fits_to_year := typed.fits_to_year,
                unit_cost := typed.unit_cost,
                currency := typed.currency,
                lead_time_days := typed.lead_time_days
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
