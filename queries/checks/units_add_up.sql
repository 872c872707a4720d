-- The units of the counting query add up to the units watched, however they are
-- grouped.
-- grain:  one row
-- reads:  int_watch, told_units (told_by, cover_class, n_units)
with watched as (
    select
        watch.cover_class,
        sum(watch.weight) as n_units
    from int_watch as watch
    group by watch.cover_class
),

groupings as (
    select distinct told_units.told_by
    from told_units
),

expected as (
    select
        groupings.told_by,
        watched.cover_class,
        watched.n_units
    from groupings
    cross join watched
),

broken as (
    select
        concat_ws(
            ' ', coalesce(told_units.told_by, expected.told_by),
            coalesce(told_units.cover_class, expected.cover_class),
            round(coalesce(told_units.n_units, 0), 3), 'v.',
            round(coalesce(expected.n_units, 0), 3)
        ) as name
    from expected
    full outer join told_units
        on
            expected.told_by = told_units.told_by
            and expected.cover_class = told_units.cover_class
    where
        abs(coalesce(told_units.n_units, 0) - coalesce(expected.n_units, 0))
        > 1e-6 * (1 + abs(coalesce(expected.n_units, 0)))
),

final as (
    select
        'units by model, year and region add up to the units watched'
            as meaning,
        'sum over the groupings v. units watched times groupings' as compared,
        cast((select coalesce(sum(told_units.n_units), 0) from told_units) as double) as found,
        cast((select coalesce(sum(expected.n_units), 0) from expected) as double) as expected,
        (select count(*) from broken) as n_broken,
        (
            select list(firsts.name order by firsts.name)
            from (
                select distinct broken.name
                from broken
                order by broken.name
                limit 5
            ) as firsts
        ) as broken_keys
)

select * from final;
