-- The parts list; a part without a component has that of its successor, or of the
-- parts that it superseded.
-- grain:  one row per part
-- reads:  parts_known, int_part_kinds, component_words (text, component)
with final as (
    select
        upper(parts.part_no) as part_key,
        parts.part_no,
        parts.description,
        coalesce(words.component, parts.component, kinds.component) as component,
        parts.supplier,
        parts.generation,
        parts.superseded_by,
        parts.fits_model,
        parts.fits_from_year,
        parts.fits_to_year,
        -- as text, so that no digit of an amount is lost
        cast(parts.unit_cost as varchar) as unit_cost,
        parts.currency,
        parts.lead_time_days
    from parts_known as parts
    left join int_part_kinds as kinds
        on upper(parts.part_no) = kinds.part_key
    left join component_words as words
        on coalesce(parts.component, kinds.component) = words.text
)

select * from final
order by part_key, part_no;
