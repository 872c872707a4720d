-- int_service with the days to come: units that had left the works by the cut-off and
-- are not in service yet come into service over the rest of their sales lag. A unit
-- without a date is unsold, or sold and its date was not written down.
-- grain:  as int_service
-- reads:  int_service, int_units, sales_lags (lag_group, lag_days, weight),
--         sales_lag_groups (model, region, lag_group; of every model where it is ''),
--         int_stock (of the days to come)
-- params: as_of (date), share_dated (double; of the units sold, those whose date the
--         register has)
create or replace temp table int_service as
with waiting as (
    select
        units.serial_key,
        units.left_works_on,
        units.in_service_date is not null as is_known_unsold,
        coalesce(own.lag_group, regional.lag_group, 0) as lag_group
    from int_units as units
    left join sales_lag_groups as own
        on
            units.model = own.model
            and coalesce(units.region, '') = own.region
    left join sales_lag_groups as regional
        on regional.model = '' and coalesce(units.region, '') = regional.region
    where
        units.origin = 'register'
        and coalesce(units.in_service_date > $as_of, true)
        and units.claimed_in_service_date is null
        and units.first_failed_on is null
        and units.left_works_on <= $as_of
),

spread as (
    select
        waiting.serial_key,
        waiting.is_known_unsold,
        waiting.left_works_on + cast(lags.lag_days as integer) as in_service_date,
        lags.weight,
        sum(lags.weight) over (partition by waiting.serial_key) as unsold
    from waiting
    inner join sales_lags as lags  -- only lags that end after the cut-off are left
        on
            waiting.lag_group = lags.lag_group
            and waiting.left_works_on + cast(lags.lag_days as integer) > $as_of
    where lags.weight > 0
),

final as (
    select
        service.serial_key,
        service.in_service_date,
        service.weight,
        service.source
    from int_service as service
    where service.source <> 'to come'  -- those of an earlier look ahead
    union all
    select
        spread.serial_key,
        spread.in_service_date,
        cast(
            spread.weight
            / case
                when spread.is_known_unsold then spread.unsold
                else 1 - $share_dated * (1 - spread.unsold)
            end as decimal(24, 15)
        ) as weight,
        'to come' as source
    from spread
    union all
    select
        stock.serial_key,
        stock.in_service_date,
        stock.weight,
        'to come' as source
    from int_stock as stock
)

select * from final;
