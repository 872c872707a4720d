-- How long each unit has been watched: to the cut-off, the end of its cover or its
-- retirement, whichever came first.
-- grain:  one row per unit, possible in-service date and cover class
-- reads:  int_units, int_service, int_cover
-- params: as_of (date), count_outside_coverage (boolean)
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

final as (
    select
        ends.serial_key,
        ends.in_service_date,
        ends.weight,
        ends.source,
        ends.cover_class,
        ends.cover_end,
        date_diff(
            'day',
            ends.in_service_date,
            least(
                cast($as_of as date),
                case
                    when $count_outside_coverage then cast($as_of as date)
                    else ends.cover_end
                end,
                coalesce(ends.retired_on, cast($as_of as date))
            )
        ) as planned_days
    from ends
)

select * from final
where planned_days >= 0;
