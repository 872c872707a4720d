-- Days from leaving the works to first use, of the units that have both dates. Where
-- dates are known because a claim was made, a lag is seen only if it left the unit
-- time to reach the age of its first failure by the cut-off.
-- grain:  one row per model, region, lag and days that the lag could have been seen
-- reads:  int_units
-- params: as_of (date), from_claims (boolean; also the dates that claims carry)
with dated as (
    select
        coalesce(units.model, '') as model,
        coalesce(units.region, '') as region,
        units.left_works_on,
        units.first_failed_on,
        case
            when $from_claims
                then coalesce(units.in_service_date, units.claimed_in_service_date)
            else units.in_service_date
        end as in_service_date
    from int_units as units
    where units.origin = 'register'
),

lags as (
    select
        dated.model,
        dated.region,
        date_diff('day', dated.left_works_on, dated.in_service_date) as lag_days,
        date_diff('day', dated.left_works_on, cast($as_of as date))
        - case
            when $from_claims and dated.first_failed_on <= $as_of
                then
                    greatest(
                        date_diff(
                            'day', dated.in_service_date, dated.first_failed_on
                        ),
                        0
                    )
            else 0
        end as horizon_days
    from dated
    where
        dated.in_service_date >= dated.left_works_on
        and dated.in_service_date <= $as_of
),

final as (
    select
        lags.model,
        lags.region,
        lags.lag_days,
        lags.horizon_days,
        count(*) as n_units
    from lags
    where lags.lag_days <= lags.horizon_days
    group by lags.model, lags.region, lags.lag_days, lags.horizon_days
)

select * from final
order by model, region, lag_days, horizon_days;
