-- Days on which a large part of a month's reports arrived at once.
-- grain:  one row per day of report
-- reads:  int_claims, lag_months (month_no, from_date, to_date)
-- params: fewest (integer)
with claims_placed as (
    select
        claims.reported_on,
        reported.month_no
    from int_claims as claims
    inner join lag_months as reported  -- months long ago tell of no backlog
        on claims.reported_on between reported.from_date and reported.to_date
    where
        claims.claim_class in (
            'counted', 'no fault found', 'misuse', 'transport damage'
        )
        and claims.is_wanted
),

months_counted as (
    select
        claims_placed.month_no,
        count(*) as n_month
    from claims_placed
    group by claims_placed.month_no
),

days_counted as (
    select
        claims_placed.reported_on,
        claims_placed.month_no,
        count(*) as n_day
    from claims_placed
    group by claims_placed.reported_on, claims_placed.month_no
),

final as (
    select
        days_counted.reported_on,
        days_counted.month_no,
        days_counted.n_day,
        months_counted.n_month
    from days_counted
    inner join months_counted  -- every day lies in a month
        on days_counted.month_no = months_counted.month_no
    where days_counted.n_day >= $fewest
)

select * from final
order by reported_on;
