-- Units shipped without a register.
-- grain:  one row per model, model year, region and month
-- reads:  int_units
-- params: as_of (date)
with final as (
    select
        units.model,
        units.model_year,
        units.region,
        units.ship_date,
        date_diff('day', units.ship_date, units.ship_date + to_months(1)) as n_days,
        sum(units.quantity)::bigint as n_units
    from int_units as units
    where units.origin = 'shipped' and units.ship_date <= $as_of
    group by units.model, units.model_year, units.region, units.ship_date
)

select * from final
order by model, model_year, region, ship_date;
