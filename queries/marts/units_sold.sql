-- Units sold between two days: a unit is sold when it leaves the works, or comes into
-- service where that day is not known.
-- grain:  one row per model, model year, region and generation
-- reads:  int_units
-- params: since (date; sold after it), as_of (date; and by it)
with units_dated as (
    select
        units.model,
        units.model_year,
        units.region,
        units.generation,
        units.quantity,
        coalesce(
            units.left_works_on, units.in_service_date, units.claimed_in_service_date
        ) as sold_on
    from int_units as units
    where units.is_wanted
),

final as (
    select
        units_dated.model,
        units_dated.model_year,
        units_dated.region,
        units_dated.generation,
        cast(sum(units_dated.quantity) as bigint) as n_units
    from units_dated
    where units_dated.sold_on > $since and units_dated.sold_on <= $as_of
    group by
        units_dated.model,
        units_dated.model_year,
        units_dated.region,
        units_dated.generation
)

select * from final
order by model, model_year, region, generation;
