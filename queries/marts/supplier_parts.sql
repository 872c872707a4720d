-- The parts of one supplier.
-- grain:  one row per part number
-- reads:  parts_known, component_words (text, component)
-- params: suppliers (varchar[]; spellings of one name)
with final as (
    select
        parts.part_no,
        parts.description,
        words.component,
        parts.generation,
        parts.superseded_by
    from parts_known as parts
    left join component_words as words
        on parts.component = words.text
    where list_contains($suppliers, parts.supplier)
)

select * from final
order by component, part_no;
