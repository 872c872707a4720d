-- How long each unit has been watched: to the cut-off, the end of its cover or its
-- retirement, whichever came first; from its first day, or from the day on which
-- failures began to be recorded. A failure on its last day could still have been
-- reported for seen_after days: to the cut-off or, after the end of cover, as long
-- as late reports are taken. A limit by distance is a class, whose share of units
-- still covered at each age is a weight.
-- grain:  one row per unit, possible in-service date and cover class
-- reads:  int_units, int_service, int_cover, int_prolonged, distance_classes (model,
--         limit_km, distance_class)
-- params: as_of (date), count_outside_coverage (boolean), late_report_days (integer),
--         recorded_from (date; the first day of all where every failure was recorded)
create or replace temp table int_watch as
with ends as (
    select
        service.serial_key,
        service.in_service_date,
        service.weight,
        service.source,
        cover.cover_class,
        cover.months as cover_months,
        -- a repair of any component can prolong the cover of the whole unit
        greatest(
            cast(
                service.in_service_date + to_months(cover.months) as date
            ) + coalesce(prolonged.more_days, 0),
            coalesce(prolonged.ends_on, service.in_service_date)
        ) as cover_end,
        units.retired_on,
        coalesce(distance_classes.distance_class, 0) as distance_class
    from int_service as service
    inner join int_units as units  -- every service row comes from a unit
        on service.serial_key = units.serial_key
    inner join int_cover as cover  -- the default cover matches every unit
        on
            coalesce(units.model, '') = cover.model
            and coalesce(units.model_year, 0) = cover.model_year
            and units.region = cover.region
            and service.in_service_date between cover.from_date and cover.to_date
    left join int_prolonged as prolonged
        on service.serial_key = prolonged.serial_key and prolonged.component = ''
    left join distance_classes
        on
            not $count_outside_coverage
            and coalesce(units.model, '') = distance_classes.model
            and cover.distance_km = distance_classes.limit_km
    where cover.months > 0 and units.is_wanted
),

last_days as (
    select
        ends.*,
        least(
            cast($as_of as date),
            case
                when $count_outside_coverage then cast($as_of as date)
                else ends.cover_end
            end,
            coalesce(ends.retired_on, cast($as_of as date))
        ) as watched_to,
        least(
            cast($as_of as date),
            case
                when $count_outside_coverage then cast($as_of as date)
                else ends.cover_end + cast($late_report_days as integer)
            end
        ) as reported_to
    from ends
),

final as (
    select
        last_days.serial_key,
        last_days.in_service_date,
        last_days.weight,
        last_days.source,
        last_days.cover_class,
        last_days.cover_end,
        date_diff('day', last_days.in_service_date, last_days.watched_to)
            as planned_days,
        date_diff('day', last_days.watched_to, last_days.reported_to) as seen_after,
        case
            when last_days.in_service_date < $recorded_from
                then
                    date_diff('day', last_days.in_service_date, $recorded_from)
            else 0
        end as entry_days,
        last_days.distance_class
    from last_days
)

-- a unit that had left before failures were recorded was never watched
select * from final
where planned_days >= entry_days;
