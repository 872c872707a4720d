-- First failures under watch with the distance gone by then, where a claim of that
-- day says so, and the limit by distance of the cover.
-- grain:  one row per failure and possible in-service date of its unit
-- reads:  int_events, int_watch, int_units, int_claims
-- params: by_model_year, by_region, by_generation, by_build_month, by_component,
--         by_failure_mode, only_dated (boolean), tolerance_days (integer)
with readings as (
    select
        claims.serial_key,
        claims.failed_on,
        claims.component,
        min(claims.distance_km) as distance_km
    from int_claims as claims
    where claims.claim_class = 'counted' and claims.distance_km is not null
    group by claims.serial_key, claims.failed_on, claims.component
),

-- of an event of any component every reading of its day will do
events_read as (
    select
        events.serial_key,
        events.component,
        events.failure_mode,
        events.cover_class,
        events.failed_on,
        min(readings.distance_km) as distance_km
    from int_events as events
    left join readings
        on
            events.serial_key = readings.serial_key
            and events.failed_on = readings.failed_on
            and (events.component in ('', readings.component))
    where events.event_no = 1
    group by
        events.serial_key,
        events.component,
        events.failure_mode,
        events.cover_class,
        events.failed_on
),

final as (
    select
        coalesce(units.model, '') as usage_model,
        units.model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_component then events_read.component end as component,
        case when $by_failure_mode then events_read.failure_mode end as failure_mode,
        events_read.distance_km,
        greatest(
            date_diff('day', watch.in_service_date, events_read.failed_on), 0
        ) as age_days,
        watch.planned_days,
        watch.distance_class,
        cast(watch.weight as double) as weight
    from events_read
    inner join int_units as units  -- counted claims have a unit
        on events_read.serial_key = units.serial_key
    inner join int_watch as watch  -- a failure outside the watch is not counted
        on
            events_read.serial_key = watch.serial_key
            and events_read.cover_class = watch.cover_class
            and (not $only_dated or watch.source in ('register', 'shipments'))
            and date_diff('day', watch.in_service_date, events_read.failed_on)
            between
            case
                when watch.entry_days > 0 then watch.entry_days
                else -cast($tolerance_days as integer)
            end
            and watch.planned_days
)

select * from final
order by
    usage_model, model_year, region, generation, build_month, component,
    failure_mode, age_days, planned_days, distance_km, distance_class, weight;
