-- Days in service under watch before and after the first failure that was counted,
-- and the failures counted: tells whether earlier ones were recorded at all.
-- grain:  one row
-- reads:  int_watch, int_claims
with first_failure as (
    select
        min(claims.failed_on) as first_failed_on,
        count(*) as n_claims
    from int_claims as claims
    where claims.claim_class = 'counted'
),

final as (
    select
        first_failure.first_failed_on,
        first_failure.n_claims,
        count(*) filter (
            where watch.in_service_date < first_failure.first_failed_on
        ) as n_units_before,
        cast(
            coalesce(
                sum(
                    greatest(
                        least(
                            date_diff(
                                'day',
                                watch.in_service_date,
                                first_failure.first_failed_on
                            ),
                            watch.planned_days
                        ) - watch.entry_days,
                        0
                    )
                ),
                0
            ) as bigint
        ) as days_before,
        cast(
            coalesce(sum(watch.planned_days - watch.entry_days), 0) as bigint
        ) as days_watched
    from first_failure
    left join int_watch as watch
        on watch.cover_class = '' and watch.source = 'register'
    group by first_failure.first_failed_on, first_failure.n_claims
)

select * from final;
