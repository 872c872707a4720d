-- Which supplier's part of which component each unit carried first.
-- grain:  one row per unit and component
-- reads:  fitted_parts_known, component_words (text, component)
-- params: as_of (date)
create or replace temp table int_carriers as
with carriers_ranked as (
    select
        upper(fitted.serial) as serial_key,
        words.component,
        fitted.supplier,
        row_number() over (
            partition by upper(fitted.serial), words.component
            order by
                coalesce(fitted.fitted_on, date '0001-01-01'),
                coalesce(fitted.removed_on, date '9999-12-31'),
                fitted.supplier
        ) as preference
    from fitted_parts_known as fitted
    inner join component_words as words  -- every spelling has its row
        on fitted.component = words.text
    where
        fitted.supplier is not null
        and coalesce(fitted.fitted_on, date '0001-01-01') <= $as_of
)

select
    ranked.serial_key,
    ranked.component,
    ranked.supplier
from carriers_ranked as ranked
where ranked.preference = 1;
