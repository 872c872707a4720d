-- The units of one production window, with the first failure of one component.
-- grain:  one row per unit
-- reads:  int_units, int_built, int_service, int_watch, int_events, int_claims,
--         int_cover
-- params: component (varchar), from_date (date), to_date (date; not inside),
--         model (varchar; all where it is null), cover_class (varchar), as_of (date)
with chosen as (
    select
        units.serial_key,
        units.serial,
        units.model,
        units.model_year,
        units.build_lot,
        units.plant,
        units.dealer,
        units.region,
        units.retired_on,
        built.built_on,
        built.is_guessed
    from int_units as units
    inner join int_built as built  -- a unit without any date is in no window
        on units.serial_key = built.serial_key
    where
        units.origin = 'register'
        and units.is_wanted
        and built.built_on >= $from_date
        and built.built_on < $to_date
        and ($model is null or units.model = $model)
),

services as (
    select
        service.serial_key,
        min(service.in_service_date) as in_service_date,
        -- one date that is possible is not one that somebody told
        bool_and(service.source <> 'estimated') as is_known
    from int_service as service
    group by service.serial_key
),

covers as (
    select
        watch.serial_key,
        max(watch.cover_end) as cover_end
    from int_watch as watch
    where watch.cover_class = $cover_class
    group by watch.serial_key
),

failures as (
    select
        events.serial_key,
        events.failed_on
    from int_events as events
    where events.component = $component and events.event_no = 1
),

numbers as (
    select
        claims.serial_key,
        claims.failed_on,
        min(claims.claim_no) as claim_no
    from int_claims as claims
    where claims.component = $component and claims.claim_class = 'counted'
    group by claims.serial_key, claims.failed_on
),

final as (
    select
        chosen.serial,
        chosen.model,
        chosen.model_year,
        chosen.built_on as build_date,
        chosen.is_guessed as build_date_guessed,
        chosen.build_lot,
        chosen.plant,
        chosen.dealer,
        chosen.region,
        case when services.is_known then services.in_service_date end
            as in_service_date,
        chosen.retired_on,
        case
            when failures.serial_key is not null then 'failed'
            when chosen.retired_on <= $as_of then 'out of service'
            when services.serial_key is null then 'not in service yet'
            else 'not yet failed'
        end as state,
        failures.failed_on,
        numbers.claim_no,
        case
            when services.is_known
                then greatest(
                    date_diff('day', cast($as_of as date), covers.cover_end), 0
                )
        end as cover_days_left
    from chosen
    left join services
        on chosen.serial_key = services.serial_key
    left join covers
        on chosen.serial_key = covers.serial_key
    left join failures
        on chosen.serial_key = failures.serial_key
    left join numbers
        on
            chosen.serial_key = numbers.serial_key
            and failures.failed_on = numbers.failed_on
)

select * from final
order by build_date, serial;
