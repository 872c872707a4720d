-- The units on both sides of an engineering change, and when each was on which side,
-- units built before it, units built after it, none of those built around it; a unit
-- that was changed in the field goes over to the other side on that day.
-- grain:  one row per unit, possible in-service date and side
-- reads:  int_watch, int_units, int_built, unit_changes_known,
--         reporting_classes (region, reporting)
-- params: change_no (varchar), model (varchar; of all models where it is null),
--         other_models (boolean; the units of all other models instead),
--         before_from, before_to, after_from (date), cover_class (varchar),
--         as_of (date)
create or replace temp table int_change_units as
with field_changes as (
    select
        upper(changes.serial) as serial_key,
        min(changes.done_on) as done_on
    from unit_changes_known as changes
    where
        upper(changes.change_no) = upper($change_no)
        and changes.done_on <= $as_of
    group by upper(changes.serial)
),

watched as (
    select
        watch.serial_key,
        units.model,
        built.built_on,
        watch.in_service_date,
        watch.entry_days,
        watch.planned_days,
        watch.seen_after,
        watch.distance_class as distance,
        coalesce(reporting_classes.reporting, 0) as reporting,
        watch.weight,
        -- the age from which on the unit has the change
        case
            when built.built_on >= $after_from then 0
            when field_changes.done_on is not null
                then
                    greatest(
                        date_diff(
                            'day', watch.in_service_date, field_changes.done_on
                        ),
                        0
                    )
        end as changed_at,
        built.built_on >= $before_from and built.built_on < $before_to as is_before
    from int_watch as watch
    inner join int_units as units  -- every watched row is of a unit
        on watch.serial_key = units.serial_key
    inner join int_built as built  -- a watched unit has a first day
        on watch.serial_key = built.serial_key
    left join field_changes
        on watch.serial_key = field_changes.serial_key
    left join reporting_classes
        on units.region = reporting_classes.region
    where
        watch.cover_class = $cover_class
        and ($model is null or (units.model = $model) <> $other_models)
),

sides as (
    select
        watched.*,
        'before' as side,
        watched.entry_days as from_day,
        least(
            watched.planned_days, coalesce(watched.changed_at - 1, watched.planned_days)
        ) as last_day
    from watched
    where watched.is_before
    union all
    select
        watched.*,
        'after' as side,
        greatest(watched.entry_days, watched.changed_at) as from_day,
        watched.planned_days as last_day
    from watched
    where watched.changed_at is not null
)

select
    sides.serial_key,
    sides.side,
    sides.built_on,
    sides.in_service_date,
    sides.from_day,
    sides.last_day,
    sides.planned_days + sides.seen_after as reported_to,
    sides.reporting,
    sides.distance,
    sides.weight
from sides
where sides.last_day >= sides.from_day;
