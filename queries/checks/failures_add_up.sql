-- The failures of the counting query are the events whose unit was watched then.
-- grain:  one row
-- reads:  int_events, int_watch, told_failures (told_by, is_first, n_events)
-- params: tolerance_days (integer)
with events_watched as (
    select
        events.event_no = 1 as is_first,
        sum(watch.weight) as n_events
    from int_events as events
    inner join int_watch as watch  -- a failure outside the watch is not counted
        on
            events.serial_key = watch.serial_key
            and events.cover_class = watch.cover_class
    where
        events.failed_on <= watch.in_service_date + cast(watch.planned_days as integer)
        and (
            watch.entry_days = 0
            or events.failed_on
            >= watch.in_service_date + cast(watch.entry_days as integer)
        )
        and (
            watch.entry_days > 0
            or events.failed_on
            >= watch.in_service_date - cast($tolerance_days as integer)
        )
    group by events.event_no = 1
),

groupings as (
    select distinct told_failures.told_by
    from told_failures
),

expected as (
    select
        groupings.told_by,
        events_watched.is_first,
        events_watched.n_events
    from groupings
    cross join events_watched
),

broken as (
    select
        concat_ws(
            ' ', coalesce(told_failures.told_by, expected.told_by),
            case when coalesce(told_failures.is_first, expected.is_first)
                then 'first failures' else 'repeats' end,
            round(coalesce(told_failures.n_events, 0), 3), 'v.',
            round(coalesce(expected.n_events, 0), 3)
        ) as name
    from expected
    full outer join told_failures
        on
            expected.told_by = told_failures.told_by
            and expected.is_first = told_failures.is_first
    where
        abs(coalesce(told_failures.n_events, 0) - coalesce(expected.n_events, 0))
        > 1e-6 * (1 + abs(coalesce(expected.n_events, 0)))
),

final as (
    select
        'failures by component, model, year and region add up to the events watched'
            as meaning,
        'sum over the groupings v. events watched times groupings' as compared,
        cast((select coalesce(sum(told_failures.n_events), 0) from told_failures) as double) as found,
        cast((select coalesce(sum(expected.n_events), 0) from expected) as double) as expected,
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
