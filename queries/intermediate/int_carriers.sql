-- Which supplier's part of which component each unit carried first.
-- grain:  one row per unit and component
-- reads:  fitted_parts_known, component_words (text, component)
create or replace temp table int_carriers as
select
    upper(fitted.serial) as serial_key,
    words.component,
    arg_min(
        fitted.supplier, coalesce(fitted.fitted_on, date '0001-01-01')
    ) as supplier
from fitted_parts_known as fitted
inner join component_words as words  -- every spelling has its row
    on fitted.component = words.text
where fitted.supplier is not null
group by upper(fitted.serial), words.component;
