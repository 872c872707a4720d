-- When the cover of units ends, and when the last of them came into service; units
-- that were retired are left out.
-- grain:  one row per model, model year, generation, cover class and month in which
--         the cover ends
-- reads:  int_watch, int_units
with final as (
    select
        units.model,
        units.model_year,
        units.generation,
        watch.cover_class,
        date_trunc('month', watch.cover_end) as end_month,
        max(watch.cover_end) as last_on,
        max(watch.in_service_date) as last_sold_on,
        cast(sum(watch.weight) as double) as n_units
    from int_watch as watch
    inner join int_units as units  -- every watched row is of a unit
        on watch.serial_key = units.serial_key
    where watch.weight <> 0 and units.retired_on is null
    group by
        units.model, units.model_year, units.generation, watch.cover_class,
        date_trunc('month', watch.cover_end)
)

select * from final
order by model, model_year, generation, cover_class, end_month;
