-- Claims by month of report and of failure.
-- grain:  one row per month
-- reads:  int_claims
with by_report as (
    select
        date_trunc('month', claims.reported_on) as month,
        count(*) as n_reported,
        count(*) filter (where claims.claim_class = 'counted') as n_counted
    from int_claims as claims
    where claims.is_wanted
    group by date_trunc('month', claims.reported_on)
),

by_failure as (
    select
        date_trunc('month', claims.failed_on) as month,
        count(*) as n_failed
    from int_claims as claims
    where claims.is_wanted
    group by date_trunc('month', claims.failed_on)
),

final as (
    select
        coalesce(by_report.month, by_failure.month) as month,
        coalesce(by_report.n_reported, 0) as n_reported,
        coalesce(by_report.n_counted, 0) as n_counted,
        coalesce(by_failure.n_failed, 0) as n_failed
    from by_report
    full outer join by_failure
        on by_report.month = by_failure.month
)

select * from final
order by month;
