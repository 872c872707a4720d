-- First failures on each side of a change, of one component or of all others.
-- grain:  one row per side, build month, age at the failure, days within which it
--         could be reported, class of reporting
-- reads:  int_change_units, int_events
-- params: component (varchar), others (boolean), tolerance_days (integer)
with failures as (
    select
        units.side,
        cast(date_trunc('month', units.built_on) as date) as built_on,
        greatest(
            date_diff('day', units.in_service_date, events.failed_on), 0
        ) as age_days,
        units.reported_to,
        units.reporting,
        units.weight
    from int_events as events
    inner join int_change_units as units
        on
            events.serial_key = units.serial_key
            and date_diff('day', units.in_service_date, events.failed_on)
            between
            case
                when units.from_day > 0 then units.from_day
                else -cast($tolerance_days as integer)
            end
            and units.last_day
    where
        events.event_no = 1
        and (events.component = $component) <> $others
),

final as (
    select
        failures.side,
        failures.built_on,
        failures.age_days,
        failures.reported_to,
        failures.reporting,
        sum(failures.weight) as n_failures
    from failures
    group by
        failures.side,
        failures.built_on,
        failures.age_days,
        failures.reported_to,
        failures.reporting
)

select * from final
order by side, built_on, age_days, reported_to, reporting;
