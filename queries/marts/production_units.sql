-- Units by the production they come from, and the stretch of age over which they
-- were watched. Units that went into service in one month and were watched to one
-- month share a row, with their mean days: at the end of any month all of them are in
-- service or none.
-- grain:  one row per model, build date (the start of its month, week
--         or lot, or its day), cover class, month of
--         the first day in service, month of the last day watched, late entry or not,
--         added or taken away, classes of reporting and of distance
-- reads:  int_watch, int_units, int_built, reporting_classes (region, reporting)
-- params: grain (varchar; month, week, day or lot)
with watched as (
    select
        units.model,
        case $grain
            when 'day' then built.built_on
            when 'week' then cast(date_trunc('week', built.built_on) as date)
            when 'lot' then built.lot_start
            else cast(date_trunc('month', built.built_on) as date)
        end as built_on,
        watch.cover_class,
        watch.in_service_date,
        watch.planned_days,
        watch.seen_after,
        watch.entry_days,
        coalesce(reporting_classes.reporting, 0) as reporting,
        watch.distance_class as distance,
        watch.weight,
        built.is_guessed,
        date_trunc('month', watch.in_service_date) as first_month,
        date_trunc(
            'month',
            watch.in_service_date + cast(watch.planned_days as integer)
        ) as last_month
    from int_watch as watch
    inner join int_units as units  -- every watched row is of a unit
        on watch.serial_key = units.serial_key
    inner join int_built as built  -- a watched unit has a first day
        on watch.serial_key = built.serial_key
    left join reporting_classes
        on units.region = reporting_classes.region
),

final as (
    select
        watched.model,
        watched.built_on,
        watched.cover_class,
        watched.first_month,
        watched.last_month,
        watched.entry_days > 0 as is_late,
        watched.weight > 0 as is_added,
        watched.reporting,
        watched.distance,
        sum(
            watched.weight
            * date_diff('day', date '2000-01-01', watched.in_service_date)
        ) / sum(watched.weight) as in_service_day,
        sum(watched.weight * watched.planned_days) / sum(watched.weight)
            as planned_days,
        sum(watched.weight * watched.seen_after) / sum(watched.weight) as seen_after,
        sum(watched.weight * watched.entry_days) / sum(watched.weight) as entry_days,
        sum(watched.weight) as n_units,
        sum(case when watched.is_guessed then watched.weight else 0 end) as n_guessed
    from watched
    where watched.weight <> 0
    group by
        watched.model,
        watched.built_on,
        watched.cover_class,
        watched.first_month,
        watched.last_month,
        watched.entry_days > 0,
        watched.weight > 0,
        watched.reporting,
        watched.distance
)

select * from final
order by
    model, built_on, cover_class, first_month, last_month, is_late, is_added,
    reporting, distance;
