-- Units by the months in which they were, are or will be under cover.
-- grain:  one row per group asked for, cohort, cover class, months of the first day in
--         service, of the first and of the last day under cover and watched, class of
--         distance, to come into service or not, sold after a day or not, added or
--         taken away. The first and the last month count for the part of them that was
--         covered: first_part and last_part are sums over the units.
-- reads:  int_watch (made to the end of the forecast), int_units, int_cohorts
-- params: by_model_year, by_region, by_generation, by_build_month, by_dealer (boolean),
--         sold_after (date; a unit is sold when it leaves the works)
with watched as (
    select
        units.model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_dealer then units.dealer end as dealer,
        cohorts.cohort,
        watch.cover_class,
        watch.in_service_date as started_on,
        watch.in_service_date + cast(watch.entry_days as integer) as first_on,
        watch.in_service_date + cast(watch.planned_days as integer) as last_on,
        watch.distance_class as distance,
        watch.source = 'to come' as is_to_come,
        coalesce(units.left_works_on, watch.in_service_date) > $sold_after as is_new,
        watch.weight
    from int_watch as watch
    inner join int_units as units  -- every watched row is of a unit
        on watch.serial_key = units.serial_key
    inner join int_cohorts as cohorts  -- and of one of its days in service
        on
            watch.serial_key = cohorts.serial_key
            and watch.in_service_date = cohorts.in_service_date
    where watch.weight <> 0
),

parts as (
    select
        watched.*,
        date_trunc('month', watched.started_on) as service_month,
        date_trunc('month', watched.first_on) as first_month,
        date_trunc('month', watched.last_on) as last_month,
        date_diff(
            'day',
            date_trunc('month', watched.last_on),
            date_trunc('month', watched.last_on) + to_months(1)
        ) as days_of_last,
        date_diff('day', date_trunc('month', watched.last_on), watched.last_on) + 1
            as days_to_last,
        date_diff(
            'day',
            date_trunc('month', watched.first_on),
            date_trunc('month', watched.first_on) + to_months(1)
        ) as days_of_first,
        date_diff('day', date_trunc('month', watched.first_on), watched.first_on)
            as days_to_first
    from watched
),

final as (
    select
        parts.model,
        parts.model_year,
        parts.region,
        parts.generation,
        parts.build_month,
        parts.dealer,
        parts.cohort,
        parts.cover_class,
        parts.service_month,
        parts.first_month,
        parts.last_month,
        parts.distance,
        parts.is_to_come,
        parts.is_new,
        parts.weight > 0 as is_added,
        cast(sum(parts.weight) as double) as n_units,
        -- sums of decimals, so that they do not depend on the order of rows
        cast(
            sum(
                parts.weight
                * cast(
                    case
                        when parts.first_month = parts.last_month
                            then parts.days_to_last
                        else parts.days_of_first
                    end - parts.days_to_first as smallint
                )
            ) as double
        ) / min(parts.days_of_first) as first_part,
        cast(
            sum(parts.weight * cast(parts.days_to_last as smallint)) as double
        ) / min(parts.days_of_last) as last_part
    from parts
    group by
        parts.model,
        parts.model_year,
        parts.region,
        parts.generation,
        parts.build_month,
        parts.dealer,
        parts.cohort,
        parts.cover_class,
        parts.service_month,
        parts.first_month,
        parts.last_month,
        parts.distance,
        parts.is_to_come,
        parts.is_new,
        parts.weight > 0
)

select * from final
order by
    model, model_year, region, generation, build_month, dealer, cohort, cover_class,
    service_month, first_month, last_month, distance, is_to_come, is_new, is_added;
