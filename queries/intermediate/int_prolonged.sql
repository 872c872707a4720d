-- What repairs under cover added to the cover of a component, or of a whole unit.
-- Each day in repair counts once; ends_on is until when the cover lasts at least.
-- grain:  one row per unit and component; '' is the whole unit
-- reads:  int_cover_repairs_in_force
create or replace temp table int_prolonged as
with stays as (
    select
        repairs.serial_key,
        repairs.component,
        repairs.reported_on,
        repairs.repaired_on,
        max(repairs.repaired_on) over (
            partition by repairs.serial_key, repairs.component
            order by repairs.reported_on, repairs.repaired_on, repairs.claim_no
            rows between unbounded preceding and 1 preceding
        ) as back_before
    from int_cover_repairs_in_force as repairs
    where repairs.effect = 'days'
),

days_added as (
    select
        stays.serial_key,
        stays.component,
        sum(
            greatest(
                date_diff(
                    'day',
                    greatest(
                        stays.reported_on,
                        coalesce(stays.back_before, stays.reported_on)
                    ),
                    stays.repaired_on
                ),
                0
            )
        ) as more_days
    from stays
    group by stays.serial_key, stays.component
),

lasting as (
    select
        repairs.serial_key,
        repairs.component,
        max(repairs.ends_on) as ends_on
    from int_cover_repairs_in_force as repairs
    where repairs.effect = 'after'
    group by repairs.serial_key, repairs.component
),

final as (
    select
        coalesce(days_added.serial_key, lasting.serial_key) as serial_key,
        coalesce(days_added.component, lasting.component) as component,
        cast(coalesce(days_added.more_days, 0) as integer) as more_days,
        lasting.ends_on
    from days_added
    full join lasting
        on
            days_added.serial_key = lasting.serial_key
            and days_added.component = lasting.component
)

select * from final;
