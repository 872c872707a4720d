-- Every supplier that some list names, by component, and whether a list of fitted
-- parts tells which units carry whose part.
-- grain:  one row per supplier and component; the component is empty where only a list
--         of responses names the supplier
-- reads:  parts_known, fitted_parts_known, responses_known,
--         component_words (text, component)
with named as (
    select
        parts.supplier,
        words.component,
        false as is_fitted
    from parts_known as parts
    inner join component_words as words  -- every spelling has its row
        on parts.component = words.text
    where parts.supplier is not null
    union all
    select
        fitted.supplier,
        words.component,
        true as is_fitted
    from fitted_parts_known as fitted
    inner join component_words as words
        on fitted.component = words.text
    where fitted.supplier is not null
    union all
    select
        parts.supplier,
        '' as component,
        false as is_fitted
    from parts_known as parts
    where parts.supplier is not null and parts.component is null
    union all
    select
        responses.supplier,
        '' as component,
        false as is_fitted
    from responses_known as responses
),

final as (
    select
        named.supplier,
        named.component,
        bool_or(named.is_fitted) as is_fitted
    from named
    group by named.supplier, named.component
)

select * from final
order by supplier, component;
