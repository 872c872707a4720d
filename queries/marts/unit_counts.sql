-- Units by the groups asked for and the age to which they were watched.
-- grain:  one row per group, cover class, component (where suppliers are asked for)
--         and age in days
-- reads:  int_watch, int_units, int_carriers
-- params: by_model, by_model_year, by_region, by_generation, by_build_month,
--         by_supplier, only_dated (boolean)
with watched as (
    select
        case when $by_model then units.model end as model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_supplier then coalesce(carriers.component, '') end
            as carried_component,
        case when $by_supplier then coalesce(carriers.supplier, 'unknown') end
            as supplier,
        watch.cover_class,
        watch.planned_days,
        watch.weight,
        watch.source = 'register' as is_dated,
        watch.source = 'estimated' as is_estimated
    from int_watch as watch
    inner join int_units as units  -- every watched row is of a unit
        on watch.serial_key = units.serial_key
    left join int_carriers as carriers
        on $by_supplier and watch.serial_key = carriers.serial_key
),

final as (
    select
        watched.model,
        watched.model_year,
        watched.region,
        watched.generation,
        watched.build_month,
        watched.carried_component,
        watched.supplier,
        watched.cover_class,
        watched.planned_days,
        sum(
            case
                when watched.is_dated or not $only_dated then watched.weight else 0
            end
        ) as n_units,
        -- units whose date is estimated, or that are left out for want of one
        sum(
            case
                when
                    watched.is_estimated or ($only_dated and not watched.is_dated)
                    then watched.weight
                else 0
            end
        ) as n_estimated
    from watched
    group by
        watched.model,
        watched.model_year,
        watched.region,
        watched.generation,
        watched.build_month,
        watched.carried_component,
        watched.supplier,
        watched.cover_class,
        watched.planned_days
)

select * from final
order by
    model, model_year, region, generation, build_month, carried_component,
    supplier, cover_class, planned_days;
