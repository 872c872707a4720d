-- Failure events by the groups asked for, age at the event and the stretch of age
-- over which the unit would have been watched.
-- grain:  one row per group, kind of event (first or repeat), age, last day watched,
--         days that reports still count, classes of reporting and of distance, late
--         entry or not
-- reads:  int_events, int_watch, int_units, int_carriers, int_part_suppliers,
--         int_unit_columns, reporting_classes (region, reporting)
-- params: by_model, by_model_year, by_region, by_generation, by_build_month,
--         by_supplier, by_component, by_column_1, by_column_2, by_column_3,
--         only_dated (boolean), tolerance_days (integer), longest_lag (integer)
with components_registered as (
    select distinct int_carriers.component
    from int_carriers
),

events_aged as (
    select
        events.component,
        events.failure_mode,
        case when $by_model then units.model end as model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_column_1 then kept.column_1 end as column_1,
        case when $by_column_2 then kept.column_2 end as column_2,
        case when $by_column_3 then kept.column_3 end as column_3,
        case
            when not $by_supplier then null
            -- where a register says who carries whose part, a failure of a unit
            -- outside it has no denominator among them
            when
                registered.component is not null
                or (
                    not $by_component
                    and replaced.supplier in (
                        select int_carriers.supplier from int_carriers
                    )
                )
                then coalesce(carriers.supplier, 'unknown')
            else coalesce(replaced.supplier, 'unknown')
        end as supplier,
        events.event_no = 1 as is_first,
        greatest(
            date_diff('day', watch.in_service_date, events.failed_on), 0
        ) as age_days,
        watch.planned_days,
        least(watch.seen_after, $longest_lag) as days_after,
        coalesce(reporting_classes.reporting, 0) as reporting,
        watch.distance_class as distance,
        watch.entry_days > 0 as is_late,
        watch.weight,
        -- what the event adds to the variance w(1 - w) of its chance w to lie at
        -- this age or a younger one: 0 where its date is known
        cast(watch.weight as decimal(18, 15)) * cast(
            1 + watch.weight - 2 * sum(watch.weight) over (
                partition by
                    events.serial_key,
                    events.component,
                    events.failure_mode,
                    events.event_no
                order by watch.in_service_date desc
                rows between unbounded preceding and current row
            ) as decimal(18, 15)
        ) as unsure
    from int_events as events
    inner join int_units as units  -- counted claims have a unit
        on events.serial_key = units.serial_key
    inner join int_watch as watch  -- a failure outside the watch is not counted
        on
            events.serial_key = watch.serial_key
            and events.cover_class = watch.cover_class
            and (not $only_dated or watch.source in ('register', 'shipments'))
            and date_diff('day', watch.in_service_date, events.failed_on)
            between
            case
                when watch.entry_days > 0 then watch.entry_days
                else -cast($tolerance_days as integer)
            end
            and watch.planned_days
    left join int_carriers as carriers
        on
            $by_supplier
            and events.serial_key = carriers.serial_key
            and events.component = carriers.component
    left join components_registered as registered
        on $by_supplier and events.component = registered.component
    left join int_part_suppliers as replaced
        on
            $by_supplier
            and events.serial_key = replaced.serial_key
            and events.component = replaced.component
    left join int_unit_columns as kept
        on $by_column_1 and events.serial_key = kept.serial_key
    left join reporting_classes
        on units.region = reporting_classes.region
),

final as (
    select
        events_aged.component,
        events_aged.failure_mode,
        events_aged.model,
        events_aged.model_year,
        events_aged.region,
        events_aged.generation,
        events_aged.build_month,
        events_aged.column_1,
        events_aged.column_2,
        events_aged.column_3,
        events_aged.supplier,
        events_aged.is_first,
        events_aged.age_days,
        events_aged.planned_days as last_day,
        events_aged.days_after,
        events_aged.reporting,
        events_aged.distance,
        events_aged.is_late,
        sum(events_aged.weight) as n_events,
        sum(events_aged.unsure) as n_unsure
    from events_aged
    group by
        events_aged.component,
        events_aged.failure_mode,
        events_aged.model,
        events_aged.model_year,
        events_aged.region,
        events_aged.generation,
        events_aged.build_month,
        events_aged.column_1,
        events_aged.column_2,
        events_aged.column_3,
        events_aged.supplier,
        events_aged.is_first,
        events_aged.age_days,
        events_aged.planned_days,
        events_aged.days_after,
        events_aged.reporting,
        events_aged.distance,
        events_aged.is_late
)

select * from final
order by
    component, failure_mode, model, model_year, region, generation, build_month,
    column_1, column_2, column_3, supplier, is_first, age_days, last_day, days_after,
    reporting, distance, is_late;
