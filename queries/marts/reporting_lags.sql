-- Days from failure to report of the claims inside the cover, whatever an inspection
-- found: it comes later than the report, and has reached the older claims only.
-- grain:  one row per region, lag, longest lag that could have been seen, and days
--         since the failure
-- reads:  int_claims
-- params: as_of (date), longest (integer), late_report_days (integer),
--         count_outside_coverage (boolean)
with counted as (
    select
        claims.region,
        claims.is_failure_date_assumed,
        date_diff('day', claims.failed_on, claims.reported_on) as lag_days,
        date_diff(
            'day',
            claims.failed_on,
            least(
                cast($as_of as date),
                case
                    when $count_outside_coverage then cast($as_of as date)
                    else
                        claims.cover_end + cast($late_report_days as integer)
                end
            )
        ) as horizon_days,
        date_diff('day', claims.failed_on, cast($as_of as date)) as days_ago
    from int_claims as claims
    where
        claims.claim_class in (
            'counted', 'no fault found', 'misuse', 'transport damage'
        )
),

final as (
    select
        counted.region,
        counted.is_failure_date_assumed,
        counted.lag_days,
        counted.horizon_days,
        counted.days_ago,
        count(*) as n_claims
    from counted
    where counted.days_ago <= $longest and counted.lag_days >= 0
    group by
        counted.region,
        counted.is_failure_date_assumed,
        counted.lag_days,
        counted.horizon_days,
        counted.days_ago
)

select * from final
order by region, is_failure_date_assumed, lag_days, horizon_days, days_ago;
