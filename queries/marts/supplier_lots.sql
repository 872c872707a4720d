-- The lots of the parts that units carry.
-- grain:  one row per supplier, component and lot
-- reads:  fitted_parts_known, component_words (text, component)
with final as (
    select distinct
        fitted.supplier,
        words.component,
        fitted.lot
    from fitted_parts_known as fitted
    inner join component_words as words  -- every spelling has its row
        on fitted.component = words.text
    where fitted.supplier is not null and fitted.lot is not null
)

select * from final
order by supplier, component, lot;
