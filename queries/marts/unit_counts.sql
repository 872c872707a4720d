-- Units by the groups asked for and the stretch of age over which they were watched.
-- A unit whose early life was not recorded has a second row, for what it had passed
-- before it was watched: is_early, to be taken away.
-- grain:  one row per group, cover class, component (where suppliers are asked for),
--         last day watched, days that reports still count, classes of reporting and
--         of distance, late entry or not
-- reads:  int_watch, int_units, int_carriers, int_unit_columns,
--         reporting_classes (region, reporting)
-- params: by_model, by_model_year, by_region, by_generation, by_build_month,
--         by_supplier, by_column_1, by_column_2, by_column_3, only_dated (boolean),
--         longest_lag (integer)
with watched as (
    select
        case when $by_model then units.model end as model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_column_1 then kept.column_1 end as column_1,
        case when $by_column_2 then kept.column_2 end as column_2,
        case when $by_column_3 then kept.column_3 end as column_3,
        case when $by_supplier then coalesce(carriers.component, '') end
            as carried_component,
        case when $by_supplier then coalesce(carriers.supplier, 'unknown') end
            as supplier,
        watch.cover_class,
        watch.planned_days,
        watch.seen_after,
        watch.entry_days,
        coalesce(reporting_classes.reporting, 0) as reporting,
        watch.distance_class as distance,
        watch.weight,
        watch.source in ('register', 'shipments') as is_dated,
        watch.source = 'estimated' as is_estimated
    from int_watch as watch
    inner join int_units as units  -- every watched row is of a unit
        on watch.serial_key = units.serial_key
    left join int_carriers as carriers
        on $by_supplier and watch.serial_key = carriers.serial_key
    left join int_unit_columns as kept
        on $by_column_1 and watch.serial_key = kept.serial_key
    left join reporting_classes
        on units.region = reporting_classes.region
),

stretches as (
    select
        watched.*,
        watched.entry_days > 0 as is_late,
        false as is_early,
        watched.planned_days as last_day,
        watched.seen_after as days_after
    from watched
    union all
    select
        watched.*,
        true as is_late,
        true as is_early,
        watched.entry_days - 1 as last_day,
        watched.seen_after + watched.planned_days - watched.entry_days + 1
            as days_after
    from watched
    where watched.entry_days > 0
),

final as (
    select
        stretches.model,
        stretches.model_year,
        stretches.region,
        stretches.generation,
        stretches.build_month,
        stretches.column_1,
        stretches.column_2,
        stretches.column_3,
        stretches.carried_component,
        stretches.supplier,
        stretches.cover_class,
        stretches.last_day,
        least(stretches.days_after, $longest_lag) as days_after,
        stretches.reporting,
        stretches.distance,
        stretches.is_late,
        stretches.is_early,
        sum(
            case
                when stretches.is_dated or not $only_dated
                    then stretches.weight
                else 0
            end
        ) as n_units,
        -- units whose date is estimated, or that are left out for want of one
        sum(
            case
                when stretches.is_early then 0
                when
                    stretches.is_estimated or ($only_dated and not stretches.is_dated)
                    then stretches.weight
                else 0
            end
        ) as n_estimated
    from stretches
    group by
        stretches.model,
        stretches.model_year,
        stretches.region,
        stretches.generation,
        stretches.build_month,
        stretches.column_1,
        stretches.column_2,
        stretches.column_3,
        stretches.carried_component,
        stretches.supplier,
        stretches.cover_class,
        stretches.last_day,
        least(stretches.days_after, $longest_lag),
        stretches.reporting,
        stretches.distance,
        stretches.is_late,
        stretches.is_early
)

select * from final
order by
    model, model_year, region, generation, build_month, column_1, column_2,
    column_3, carried_component, supplier, cover_class, last_day, days_after,
    reporting, distance, is_late, is_early;
