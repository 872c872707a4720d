-- Cover by model, model year, region, cover class and in-service date. A cover class
-- is a component that the settings give its own cover; the class '' is every other
-- component. Each value is that of the most exact term that states it; extensions of
-- the calendar are in the months.
-- grain:  one row per model, model year (0 for none), region, cover class and stretch
--         of in-service dates; the stretches of a place do not overlap and leave no gap
-- reads:  int_units, cover_terms (component, model, model_year, region, months,
--         distance_km, restart, restart_months, exactness), cover_classes
--         (cover_class), cover_periods (from_date, to_date), calendar_extensions
--         (component, model, model_year, region, from_date, to_date,
--         at_least_months, more_months)
create or replace temp table int_cover as
with places as (
    select distinct
        coalesce(units.model, '') as model,
        coalesce(units.model_year, 0) as model_year,
        units.region
    from int_units as units
),

classes as (
    select cover_classes.cover_class
    from cover_classes
    union all
    select '' as cover_class
),

terms_matched as (
    select
        places.model,
        places.model_year,
        places.region,
        classes.cover_class,
        cast(
            arg_max(cover_terms.months, cover_terms.exactness)
            filter (where cover_terms.months is not null) as integer
        ) as months,
        -- below 0: no limit by distance
        arg_max(cover_terms.distance_km, cover_terms.exactness)
        filter (where cover_terms.distance_km is not null) as distance_km,
        arg_max(cover_terms.restart, cover_terms.exactness)
        filter (where cover_terms.restart is not null) as restart,
        -- 0: as long as the cover itself
        cast(
            arg_max(coalesce(cover_terms.restart_months, 0), cover_terms.exactness)
            filter (where cover_terms.restart is not null) as integer
        ) as restart_months
    from places
    cross join classes
    inner join cover_terms  -- the default term matches every place
        on
            coalesce(cover_terms.component, classes.cover_class)
            = classes.cover_class
            and coalesce(cover_terms.model, places.model) = places.model
            and coalesce(cover_terms.model_year, places.model_year)
            = places.model_year
            and coalesce(cover_terms.region, places.region) = places.region
    group by
        places.model,
        places.model_year,
        places.region,
        classes.cover_class
),

extended as (
    select
        terms_matched.model,
        terms_matched.model_year,
        terms_matched.region,
        terms_matched.cover_class,
        cover_periods.from_date,
        coalesce(max(rules.at_least_months), 0) as at_least_months,
        coalesce(sum(rules.more_months), 0) as more_months
    from terms_matched
    cross join cover_periods
    left join calendar_extensions as rules
        on
            coalesce(rules.component, terms_matched.cover_class)
            = terms_matched.cover_class
            and coalesce(rules.model, terms_matched.model) = terms_matched.model
            and coalesce(rules.model_year, terms_matched.model_year)
            = terms_matched.model_year
            and coalesce(rules.region, terms_matched.region) = terms_matched.region
            and cover_periods.from_date >= rules.from_date
            and cover_periods.to_date <= rules.to_date
    group by
        terms_matched.model,
        terms_matched.model_year,
        terms_matched.region,
        terms_matched.cover_class,
        cover_periods.from_date
),

months_added as (
    select
        terms_matched.*,
        cover_periods.from_date,
        cover_periods.to_date,
        -- what is not covered at all is not covered longer
        case
            when greatest(terms_matched.months, extended.at_least_months) = 0 then 0
            else
                greatest(terms_matched.months, extended.at_least_months)
                + extended.more_months
        end as covered_months
    from terms_matched
    inner join extended  -- every place has every stretch
        on
            terms_matched.model = extended.model
            and terms_matched.model_year = extended.model_year
            and terms_matched.region = extended.region
            and terms_matched.cover_class = extended.cover_class
    inner join cover_periods  -- where the stretch ends
        on extended.from_date = cover_periods.from_date
),

final as (
    select
        months_added.model,
        months_added.model_year,
        months_added.region,
        months_added.cover_class,
        months_added.from_date,
        months_added.to_date,
        cast(months_added.covered_months as integer) as months,
        case
            when months_added.distance_km > 0 then months_added.distance_km
        end as distance_km,
        months_added.restart,
        cast(
            case
                when months_added.restart_months > 0 then months_added.restart_months
                else months_added.covered_months
            end as integer
        ) as restart_months
    from months_added
)

select * from final;
