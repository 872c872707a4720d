-- Months of cover by model, region and cover class. A cover class is a component
-- that the settings give its own cover; the class '' is every other component.
-- grain:  one row per model, region and cover class
-- reads:  units_known, cover_terms (component, model, region, months, exactness)
create or replace temp table int_cover as
with places as (
    select distinct
        coalesce(units_known.model, '') as model,
        coalesce(units_known.region, '') as region
    from units_known
),

classes as (
    select distinct coalesce(cover_terms.component, '') as cover_class
    from cover_terms
),

matched as (
    select
        places.model,
        places.region,
        classes.cover_class,
        cover_terms.months,
        row_number() over (
            partition by places.model, places.region, classes.cover_class
            order by cover_terms.exactness desc
        ) as preference
    from places
    cross join classes
    inner join cover_terms  -- the default term matches every place
        on
            coalesce(cover_terms.component, classes.cover_class)
            = classes.cover_class
            and coalesce(cover_terms.model, places.model) = places.model
            and coalesce(cover_terms.region, places.region) = places.region
)

select
    matched.model,
    matched.region,
    matched.cover_class,
    matched.months
from matched
where matched.preference = 1;
