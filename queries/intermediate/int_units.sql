-- Units of the register with the attributes that can group them, and the first
-- date that proves an undated unit was sold.
-- grain:  one row per unit
-- reads:  units_known, claims_known, wanted (column_name, value)
-- params: as_of (date)
create or replace temp table int_units as
with claim_dates as (
    select
        upper(claims_known.serial) as serial_key,
        min(claims_known.in_service_date) as claimed_in_service_date,
        min(coalesce(claims_known.failed_on, claims_known.reported_on))
            as first_failed_on,
        max(coalesce(claims_known.failed_on, claims_known.reported_on))
            as last_failed_on
    from claims_known
    where claims_known.reported_on <= $as_of
    group by upper(claims_known.serial)
),

units_selected as (
    select
        upper(units.serial) as serial_key,
        units.serial,
        units.model,
        units.model_year,
        units.generation,
        coalesce(units.region, '') as region,
        units.dealer,
        units.build_date,
        units.ship_date,
        coalesce(units.ship_date, units.build_date) as left_works_on,
        units.in_service_date,
        claim_dates.claimed_in_service_date,
        claim_dates.first_failed_on,
        -- a retirement that a later failure contradicts is not believed
        case
            when
                units.retired_on >= coalesce(units.in_service_date, units.retired_on)
                and units.retired_on
                >= coalesce(claim_dates.last_failed_on, units.retired_on)
                then units.retired_on
        end as retired_on,
        (
            not exists (select 1 from wanted where wanted.column_name = 'model')
            or units.model in (
                select wanted.value from wanted where wanted.column_name = 'model'
            )
        )
        and (
            not exists (select 1 from wanted where wanted.column_name = 'model_year')
            or cast(units.model_year as varchar) in (
                select wanted.value
                from wanted
                where wanted.column_name = 'model_year'
            )
        )
        and (
            not exists (select 1 from wanted where wanted.column_name = 'region')
            or coalesce(units.region, '') in (
                select wanted.value from wanted where wanted.column_name = 'region'
            )
        ) as is_wanted
    from units_known as units
    left join claim_dates
        on upper(units.serial) = claim_dates.serial_key
)

select * from units_selected;
