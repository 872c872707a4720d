-- How long one unit is covered: as a whole, and for each component on its own terms.
-- grain:  one row per cover class ('' for the unit)
-- reads:  int_units, int_service, int_cover, int_prolonged
with final as (
    select
        cover.cover_class,
        cover.months,
        cover.distance_km,
        service.in_service_date,
        cast(service.in_service_date + to_months(cover.months) as date) as base_end,
        greatest(
            cast(service.in_service_date + to_months(cover.months) as date)
            + cast(
                coalesce(of_unit.more_days, 0) + coalesce(of_component.more_days, 0)
                as integer
            ),
            coalesce(of_unit.ends_on, service.in_service_date),
            coalesce(of_component.ends_on, service.in_service_date)
        ) as cover_end
    from int_service as service
    inner join int_units as units  -- every service row comes from a unit
        on service.serial_key = units.serial_key
    inner join int_cover as cover  -- the default cover matches every unit
        on
            coalesce(units.model, '') = cover.model
            and coalesce(units.model_year, 0) = cover.model_year
            and units.region = cover.region
            and service.in_service_date between cover.from_date and cover.to_date
    left join int_prolonged as of_unit
        on service.serial_key = of_unit.serial_key and of_unit.component = ''
    left join int_prolonged as of_component
        on
            service.serial_key = of_component.serial_key
            and cover.cover_class = of_component.component
            and cover.cover_class <> ''
    where service.weight > 0
)

select * from final
order by cover_class;
