-- Limits by distance of the models in the register.
-- grain:  one row per model and limit
-- reads:  int_cover
with final as (
    select distinct
        cover.model,
        cover.distance_km as limit_km
    from int_cover as cover
    where cover.distance_km is not null and cover.months > 0
)

select * from final
order by model, limit_km;
