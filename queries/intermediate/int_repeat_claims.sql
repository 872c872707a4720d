-- Counted claims of each unit and component, and which event each belongs to: claims
-- that lie close together are one event.
-- grain:  one row per counted claim in sight
-- reads:  int_claims, wanted (column_name, value)
-- params: by_failure_mode (boolean), same_event_days (integer)
create or replace temp table int_repeat_claims as
with claims_grouped as (
    select
        claims.claim_no,
        claims.serial_key,
        claims.component,
        case when $by_failure_mode then claims.failure_mode else '' end
            as failure_mode,
        claims.cover_class,
        claims.failed_on,
        claims.reported_on,
        claims.cost,
        coalesce(claims.currency, '') as currency
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
            order by claims_grouped.failed_on, claims_grouped.claim_no
        ) as previous_failed_on
    from claims_grouped
),

final as (
    select
        gaps_measured.claim_no,
        gaps_measured.serial_key,
        gaps_measured.component,
        gaps_measured.failure_mode,
        gaps_measured.cover_class,
        gaps_measured.failed_on,
        gaps_measured.reported_on,
        gaps_measured.cost,
        gaps_measured.currency,
        cast(
            sum(
                case
                    when
                        gaps_measured.previous_failed_on is null
                        or date_diff(
                            'day',
                            gaps_measured.previous_failed_on,
                            gaps_measured.failed_on
                        ) > $same_event_days
                        then 1
                    else 0
                end
            ) over (
                partition by
                    gaps_measured.serial_key,
                    gaps_measured.component,
                    gaps_measured.failure_mode
                order by gaps_measured.failed_on, gaps_measured.claim_no
                rows between unbounded preceding and current row
            ) as bigint
        ) as event_no
    from gaps_measured
)

select * from final;
