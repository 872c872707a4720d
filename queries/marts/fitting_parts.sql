-- The parts list as far as it can concern one unit: the parts that are listed for it,
-- and every part that supersedes another.
-- grain:  one row per part
-- reads:  parts_known, component_words (text, component)
-- params: model (varchar), model_year (integer), generation (varchar)
with final as (
    select
        parts.part_no,
        parts.description,
        coalesce(words.component, parts.component) as component,
        parts.superseded_by,
        parts.generation,
        parts.fits_model,
        parts.fits_from_year,
        parts.fits_to_year,
        coalesce(parts.fits_model = $model, true)
        and coalesce(parts.fits_from_year <= $model_year, true)
        and coalesce(parts.fits_to_year >= $model_year, true)
        and coalesce(parts.generation = $generation, true) as fits
    from parts_known as parts
    left join component_words as words
        on parts.component = words.text
)

select * from final
order by part_no;
