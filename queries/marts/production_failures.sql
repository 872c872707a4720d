-- First failures by component and the production that they come from, with the dates
-- that tell what was known at an earlier cut-off.
-- grain:  one row per component, model, build date (the start of its month, week
--         or lot, or its day), first day
--         in service, dates of failure and of report, last day watched, days that
--         reports still count after it, class of reporting
-- reads:  int_events, int_watch, int_units, int_built,
--         reporting_classes (region, reporting)
-- params: grain (varchar; month, week, day or lot), tolerance_days (integer)
with failures as (
    select
        events.component,
        units.model,
        case $grain
            when 'day' then built.built_on
            when 'week' then cast(date_trunc('week', built.built_on) as date)
            when 'lot' then built.lot_start
            else cast(date_trunc('month', built.built_on) as date)
        end as built_on,
        watch.in_service_date,
        events.failed_on,
        events.reported_on,
        watch.planned_days,
        watch.seen_after,
        coalesce(reporting_classes.reporting, 0) as reporting,
        watch.weight
    from int_events as events
    inner join int_units as units  -- counted claims have a unit
        on events.serial_key = units.serial_key
    inner join int_built as built  -- a watched unit has a first day
        on events.serial_key = built.serial_key
    inner join int_watch as watch  -- a failure outside the watch is not counted
        on
            events.serial_key = watch.serial_key
            and events.cover_class = watch.cover_class
            and date_diff('day', watch.in_service_date, events.failed_on)
            between
            case
                when watch.entry_days > 0 then watch.entry_days
                else -cast($tolerance_days as integer)
            end
            and watch.planned_days
    left join reporting_classes
        on units.region = reporting_classes.region
    where events.event_no = 1
),

final as (
    select
        failures.component,
        failures.model,
        failures.built_on,
        failures.in_service_date,
        failures.failed_on,
        failures.reported_on,
        failures.planned_days,
        failures.seen_after,
        failures.reporting,
        sum(failures.weight) as n_failures
    from failures
    group by
        failures.component,
        failures.model,
        failures.built_on,
        failures.in_service_date,
        failures.failed_on,
        failures.reported_on,
        failures.planned_days,
        failures.seen_after,
        failures.reporting
)

select * from final
order by
    component, model, built_on, in_service_date, failed_on, reported_on,
    planned_days, seen_after, reporting;
