-- How long each unit has been watched: to the cut-off, the end of its cover or its
-- retirement, whichever came first. A failure on its last day could still have been
-- reported for seen_after days: to the cut-off or, after the end of cover, as long
-- as late reports are taken.
-- grain:  one row per unit, possible in-service date and cover class
-- reads:  int_units, int_service, int_cover
-- params: as_of (date), count_outside_coverage (boolean), late_report_days (integer)
create or replace temp table int_watch as
with ends as (
    select
        service.serial_key,
        service.in_service_date,
        service.weight,
        service.source,
        cover.cover_class,
        cover.months as cover_months,
        cast(
            service.in_service_date + to_months(cover.months) as date
        ) as cover_end,
        units.retired_on
    from int_service as service
    inner join int_units as units  -- every service row comes from a unit
        on service.serial_key = units.serial_key
    inner join int_cover as cover  -- the default cover matches every unit
        on
            coalesce(units.model, '') = cover.model
            and units.region = cover.region
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
        0 as entry_days,
        0 as distance_class
    from last_days
)

select * from final
where planned_days >= 0;
