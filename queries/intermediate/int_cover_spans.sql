-- Shortest and longest cover of the whole unit.
-- grain:  one row per model
-- reads:  int_cover
with final as (
    select
        cover.model,
        min(cover.months) as shortest_months,
        max(cover.months) as longest_months
    from int_cover as cover
    where cover.cover_class = '' and cover.months > 0
    group by cover.model
)

select * from final
order by model;
