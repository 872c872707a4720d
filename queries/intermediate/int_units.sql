-- Units with the attributes that can group them, and the first date that proves an
-- undated unit was sold: those of the register, and after them what stands for units
-- that no register names.
-- grain:  one row per unit of the register (origin 'register', quantity 1) and per row
--         of int_shipped
-- reads:  units_known, claims_known, int_shipped, wanted (column_name, value)
-- params: as_of (date)
create or replace temp table int_units as
with claim_dates as (
    select
        upper(claims_known.serial) as serial_key,
        min(claims_known.in_service_date) as claimed_in_service_date,
        min(
            case
                when claims_known.failed_on <= $as_of then claims_known.failed_on
                else claims_known.reported_on
            end
        ) as first_failed_on,
        max(
            case
                when claims_known.failed_on <= $as_of then claims_known.failed_on
                else claims_known.reported_on
            end
        ) as last_failed_on
    from claims_known
    where claims_known.reported_on <= $as_of
    group by upper(claims_known.serial)
),

units_listed as (
    select
        upper(units.serial) as serial_key,
        units.serial,
        units.model,
        units.model_year,
        units.generation,
        coalesce(units.region, '') as region,
        units.dealer,
        units.build_date,
        units.build_lot,
        units.plant,
        units.ship_date,
        coalesce(units.ship_date, units.build_date) as left_works_on,
        units.in_service_date,
        claim_dates.claimed_in_service_date,
        claim_dates.first_failed_on,
        -- a retirement that a later failure contradicts is not believed, and one
        -- after the cut-off was not known at it
        case
            when
                units.retired_on <= $as_of
                and units.retired_on
                >= coalesce(units.in_service_date, units.retired_on)
                and units.retired_on
                >= coalesce(claim_dates.last_failed_on, units.retired_on)
                then units.retired_on
        end as retired_on,
        cast(null as varchar) as first_component,
        'register' as origin,
        cast(1 as bigint) as quantity
    from units_known as units
    left join claim_dates
        on upper(units.serial) = claim_dates.serial_key
    union all
    select
        shipped.serial_key,
        shipped.serial,
        shipped.model,
        shipped.model_year,
        null as generation,
        shipped.region,
        shipped.dealer,
        cast(null as date) as build_date,
        cast(null as varchar) as build_lot,
        cast(null as varchar) as plant,
        shipped.ship_date,
        shipped.ship_date as left_works_on,
        cast(null as date) as in_service_date,
        shipped.claimed_in_service_date,
        shipped.first_failed_on,
        cast(null as date) as retired_on,
        shipped.first_component,
        shipped.origin,
        shipped.quantity
    from int_shipped as shipped
),

units_selected as (
    select
        units.serial_key,
        units.serial,
        units.model,
        units.model_year,
        units.generation,
        units.region,
        units.dealer,
        units.build_date,
        units.build_lot,
        units.plant,
        units.ship_date,
        units.left_works_on,
        units.in_service_date,
        units.claimed_in_service_date,
        units.first_failed_on,
        units.retired_on,
        units.first_component,
        units.origin,
        units.quantity,
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
            or units.region in (
                select wanted.value from wanted where wanted.column_name = 'region'
            )
        ) as is_wanted
    from units_listed as units
)

select * from units_selected;
