-- Engineering changes with the build date from which on they hold: their own, or that
-- of the first unit that has them.
-- grain:  one row per change
-- reads:  changes_known, units_known, component_words (text, component)
with final as (
    select
        changes.change_no,
        coalesce(words.component, changes.component) as component,
        changes.description,
        changes.model,
        changes.effective_serial,
        coalesce(changes.effective_build_date, units.build_date) as starts_on
    from changes_known as changes
    left join component_words as words
        on changes.component = words.text
    left join units_known as units
        on upper(changes.effective_serial) = upper(units.serial)
)

select * from final
order by change_no;
