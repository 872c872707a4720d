-- Which supplier's part of which component each unit carried first.
-- grain:  one row per unit and component
-- reads:  fitted_parts_known
create or replace temp table int_carriers as
select
    upper(fitted.serial) as serial_key,
    fitted.component,
    arg_min(
        fitted.supplier, coalesce(fitted.fitted_on, date '0001-01-01')
    ) as supplier
from fitted_parts_known as fitted
where fitted.supplier is not null
group by upper(fitted.serial), fitted.component;
