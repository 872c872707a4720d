-- Units on each side of a change by how long they were watched there.
-- grain:  one row per side, build month, first and last day of age watched, age until
--         which reports count, classes of reporting and of distance
-- reads:  int_change_units
with final as (
    select
        units.side,
        cast(date_trunc('month', units.built_on) as date) as built_on,
        units.from_day,
        units.last_day,
        units.reported_to,
        units.reporting,
        units.distance,
        sum(units.weight) as n_units
    from int_change_units as units
    group by
        units.side,
        date_trunc('month', units.built_on),
        units.from_day,
        units.last_day,
        units.reported_to,
        units.reporting,
        units.distance
)

select * from final
order by
    side, built_on, from_day, last_day, reported_to, reporting, distance;
