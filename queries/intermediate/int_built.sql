-- When each unit was built. A unit without a build date is put where it left the
-- works or, where not even that is known, as long before its first day in service as
-- the middle one of the units that have both dates. The start of its lot is the first
-- build date in it.
-- grain:  one row per unit with a date to go by
-- reads:  int_units, int_service
create or replace temp table int_built as
with sales_lag as (
    select
        coalesce(
            cast(
                median(
                    date_diff('day', units.build_date, units.in_service_date)
                ) as integer
            ),
            0
        ) as days
    from int_units as units
    where units.build_date <= units.in_service_date
),

first_days as (
    select
        service.serial_key,
        min(service.in_service_date) as in_service_date
    from int_service as service
    group by service.serial_key
),

lots as (
    select
        units.build_lot,
        min(units.build_date) as lot_start
    from int_units as units
    where units.build_lot is not null
    group by units.build_lot
),

final as (
    select
        units.serial_key,
        coalesce(
            units.build_date,
            units.left_works_on,
            first_days.in_service_date - sales_lag.days
        ) as built_on,
        units.build_date is null as is_guessed,
        lots.lot_start
    from int_units as units
    cross join sales_lag
    left join first_days
        on units.serial_key = first_days.serial_key
    left join lots
        on units.build_lot = lots.build_lot
)

select * from final
where built_on is not null;
