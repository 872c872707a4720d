-- Failure events of each unit: counted claims of one component that lie close
-- together are one event. The first event is the failure, later ones are repeats.
-- grain:  one row per unit, group (component, failure mode as asked for) and event
-- reads:  int_claims, int_units
-- params: by_component (boolean), by_failure_mode (boolean),
--         same_event_days (integer)
create or replace temp table int_events as
with claims_grouped as (
    select
        claims.serial_key,
        case when $by_component then claims.component else '' end as component,
        case when $by_failure_mode then claims.failure_mode else '' end
            as failure_mode,
        -- the unit's own first failure runs on the default cover
        case when $by_component then claims.cover_class else '' end as cover_class,
        claims.failed_on,
        claims.reported_on
    from int_claims as claims
    where
        claims.claim_class = 'counted'
        and claims.is_wanted
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or claims.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
),

gaps_measured as (
    select
        claims_grouped.*,
        lag(claims_grouped.failed_on) over (
            partition by
                claims_grouped.serial_key,
                claims_grouped.component,
                claims_grouped.failure_mode
            order by claims_grouped.failed_on, claims_grouped.reported_on
        ) as previous_failed_on
    from claims_grouped
),

starts as (
    select
        gaps_measured.serial_key,
        gaps_measured.component,
        gaps_measured.failure_mode,
        gaps_measured.cover_class,
        gaps_measured.failed_on,
        gaps_measured.reported_on
    from gaps_measured
    where
        gaps_measured.previous_failed_on is null
        or date_diff(
            'day', gaps_measured.previous_failed_on, gaps_measured.failed_on
        ) > $same_event_days
),

final as (
    select
        starts.*,
        row_number() over (
            partition by starts.serial_key, starts.component, starts.failure_mode
            order by starts.failed_on, starts.reported_on, starts.cover_class
        ) as event_no
    from starts
)

select * from final;
