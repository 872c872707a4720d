-- Which build dates each unit goes with. Those of a unit that no register names are
-- told by the day on which it came into service: as long before it as a shipped unit
-- leaves the works, for each possible day of its own, or its claims would stand with
-- others than it takes the place of.
-- grain:  one row per unit and possible in-service date
-- reads:  int_service, int_units, int_built, shipment_lag (lag_days, weight),
--         cohort_days (built_on, cohort)
create or replace temp table int_cohorts as
with sales_lag as (
    select
        cast(
            round(
                sum(shipment_lag.lag_days * shipment_lag.weight)
                / sum(shipment_lag.weight)
            ) as integer
        ) as days
    from shipment_lag
),

models_shipped as (
    select distinct units.model
    from int_units as units
    where units.origin = 'shipped'
),

final as (
    select
        service.serial_key,
        service.in_service_date,
        coalesce(cohorts.cohort, 0) as cohort
    from int_service as service
    inner join int_units as units  -- every service row comes from a unit
        on service.serial_key = units.serial_key
    cross join sales_lag
    left join int_built as built
        on service.serial_key = built.serial_key
    left join models_shipped
        on
            units.model = models_shipped.model
            and units.origin in ('claimed', 'place')
    left join cohort_days as cohorts  -- build dates outside of all go with the first
        on
            case
                when models_shipped.model is not null
                    then service.in_service_date - sales_lag.days
                else built.built_on
            end = cohorts.built_on
)

select * from final;
