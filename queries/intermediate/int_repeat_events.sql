-- Events of each unit and component, each taken for a repair, and the next one.
-- grain:  one row per unit, component, failure mode (where asked for) and event
-- reads:  int_repeat_claims
create or replace temp table int_repeat_events as
with events as (
    select
        claims.serial_key,
        claims.component,
        claims.failure_mode,
        claims.event_no,
        any_value(claims.cover_class) as cover_class,
        min(claims.failed_on) as failed_on
    from int_repeat_claims as claims
    group by
        claims.serial_key,
        claims.component,
        claims.failure_mode,
        claims.event_no
),

final as (
    select
        events.serial_key,
        events.component,
        events.failure_mode,
        events.event_no,
        events.cover_class,
        events.failed_on,
        row_number() over (
            order by
                -- facts first, so that the order of a sum hangs on no identifier
                events.failed_on,
                events.component,
                events.failure_mode,
                events.event_no,
                events.serial_key
        ) as repair_no,
        -- 0 where no later event is known
        coalesce(
            date_diff(
                'day',
                events.failed_on,
                lead(events.failed_on) over (
                    partition by
                        events.serial_key, events.component, events.failure_mode
                    order by events.event_no
                )
            ),
            0
        ) as gap_days
    from events
)

select * from final;
