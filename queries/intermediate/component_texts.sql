-- The spellings of components in the lists that name them freely.
-- grain:  one row per spelling
-- reads:  parts_known, fitted_parts_known
with final as (
    select parts.component as text
    from parts_known as parts
    where parts.component is not null
    union
    select fitted.component as text
    from fitted_parts_known as fitted
)

select * from final
order by text;
