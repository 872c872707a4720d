-- When each unit came into service: as registered, as a claim says, or spread over
-- the sales lag of its model and region (else of its region, else of all), which a
-- unit with a claim cannot have exceeded.
-- grain:  one row per unit and possible in-service date; the weights of a unit
--         add up to 1, or to its chance of having been sold; they are decimals,
--         so that their sums do not depend on the order of rows
-- reads:  int_units, sales_lags (lag_group, lag_days, weight), sales_lag_groups (model,
--         region, lag_group; of every model where it is '')
-- params: as_of (date)
create or replace temp table int_service as
with lags as (
    select
        sales_lags.lag_group,
        sales_lags.lag_days,
        cast(sales_lags.weight as decimal(18, 15)) as weight
    from sales_lags
),

undated as (
    select
        units.serial_key,
        units.left_works_on,
        least(coalesce(units.first_failed_on, $as_of), $as_of) as latest_on,
        units.first_failed_on is not null as is_known_sold,
        coalesce(own.lag_group, regional.lag_group, 0) as lag_group
    from int_units as units
    left join sales_lag_groups as own
        on
            units.model = own.model
            and coalesce(units.region, '') = own.region
    left join sales_lag_groups as regional
        on regional.model = '' and coalesce(units.region, '') = regional.region
    where
        units.in_service_date is null
        and units.claimed_in_service_date is null
        and units.left_works_on is not null
),

spread as (
    select
        undated.serial_key,
        undated.left_works_on + cast(lags.lag_days as integer) as in_service_date,
        lags.weight,
        sum(
            case when undated.is_known_sold then lags.weight end
        ) over (partition by undated.serial_key) as known_weight
    from undated
    inner join lags  -- only lags that end by then are possible
        on
            undated.lag_group = lags.lag_group
            and undated.left_works_on + cast(lags.lag_days as integer)
            <= undated.latest_on
),

final as (
    select
        units.serial_key,
        coalesce(units.in_service_date, units.claimed_in_service_date)
            as in_service_date,
        cast(1 as decimal(18, 15)) as weight,
        case
            when units.in_service_date is null then 'claim' else 'register'
        end as source
    from int_units as units
    where
        coalesce(units.in_service_date, units.claimed_in_service_date) <= $as_of
    union all
    select
        spread.serial_key,
        spread.in_service_date,
        cast(
            spread.weight / coalesce(spread.known_weight, 1) as decimal(18, 15)
        ) as weight,
        'estimated' as source
    from spread
    where spread.weight > 0
)

select * from final;
