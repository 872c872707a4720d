-- In-service dates that claims of models without a register carry, with the first
-- failure of the unit.
-- grain:  one row per unit
-- reads:  int_units
-- params: as_of (date)
with final as (
    select
        units.model,
        coalesce(units.model_year, 0) as model_year,
        units.region,
        units.first_component as component,
        units.claimed_in_service_date as in_service_date,
        date_diff('day', units.claimed_in_service_date, units.first_failed_on)
            as age_days
    from int_units as units
    where
        units.origin = 'claimed'
        and units.claimed_in_service_date <= units.first_failed_on
        and units.first_failed_on <= $as_of
        and units.model in (
            select shipped.model from int_units as shipped
            where shipped.origin = 'shipped'
        )
)

select * from final
order by model, model_year, region, component, in_service_date, age_days;
