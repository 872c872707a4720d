-- Days from leaving the works to first use, of the units that have both dates.
-- grain:  one row per model, region, lag and days that the lag could have been seen
-- reads:  int_units
-- params: as_of (date)
with dated as (
    select
        coalesce(units.model, '') as model,
        coalesce(units.region, '') as region,
        date_diff('day', units.left_works_on, units.in_service_date) as lag_days,
        date_diff('day', units.left_works_on, cast($as_of as date)) as horizon_days
    from int_units as units
    where
        units.in_service_date >= units.left_works_on
        and units.in_service_date <= $as_of
),

final as (
    select
        dated.model,
        dated.region,
        dated.lag_days,
        dated.horizon_days,
        count(*) as n_units
    from dated
    group by dated.model, dated.region, dated.lag_days, dated.horizon_days
)

select * from final
order by model, region, lag_days, horizon_days;
