-- When each unit came into service: as registered, as a claim says, or spread over
-- the sales lag of its model and region (else of its region, else of all), which a
-- unit with a claim cannot have exceeded. Of units that no register names: shipments
-- as they came into service; a claim that does not say when as the units did that
-- are old enough, by how often that component
-- fails at that age. A unit that no register
-- names takes the place of one like it, which has the same dates and counts against.
-- grain:  one row per unit and possible in-service date; the weights of a unit of the
--         register add up to 1, or to its chance of having been sold; they are
--         decimals, so that their sums do not depend on the order of rows
-- reads:  int_units, sales_lags (lag_group, lag_days, weight), sales_lag_groups (model,
--         region, lag_group; of every model where it is ''), int_stock,
--         claim_hazards (model, component, from_day, to_day, hazard; as far as
--         any cover goes)
-- params: as_of (date), share_dated (double, below 1; of the units sold, those whose
--         date the register has)
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
        units.origin = 'register'
        and units.in_service_date is null
        and units.claimed_in_service_date is null
        and units.left_works_on is not null
),

spread as (
    select
        undated.serial_key,
        undated.left_works_on + cast(lags.lag_days as integer) as in_service_date,
        lags.weight,
        undated.is_known_sold,
        sum(lags.weight) over (partition by undated.serial_key) as sold
    from undated
    inner join lags  -- only lags that end by then are possible
        on
            undated.lag_group = lags.lag_group
            and undated.left_works_on + cast(lags.lag_days as integer)
            <= undated.latest_on
),

inflow as (
    select
        stock.model,
        stock.in_service_date,
        sum(stock.weight) as n_units
    from int_stock as stock
    group by stock.model, stock.in_service_date
),

-- claims that do not say when their unit came into service
unsaid as (
    select
        units.serial_key,
        units.quantity,
        inflow.in_service_date,
        greatest(inflow.n_units, 0) * hazards.hazard as likelihood
    from int_units as units
    inner join inflow  -- units of its kind that were in service by then
        on
            units.model = inflow.model
            and units.first_failed_on >= inflow.in_service_date
    inner join claim_hazards as hazards  -- and young enough to be covered
        on
            units.model = hazards.model
            -- a component that no dated claim names fails as all do
            and hazards.component
            = case
                when
                    units.first_component in (
                        select claim_hazards.component from claim_hazards
                    )
                    then units.first_component
                else ''
            end
            and date_diff('day', inflow.in_service_date, units.first_failed_on)
            between hazards.from_day and hazards.to_day
    where
        units.origin in ('claimed', 'place')
        and units.claimed_in_service_date is null
),

unsaid_weighed as (
    select
        unsaid.serial_key,
        unsaid.quantity,
        unsaid.in_service_date,
        unsaid.likelihood
        / sum(unsaid.likelihood) over (partition by unsaid.serial_key) as weight
    from unsaid
    where unsaid.likelihood > 0
),

final as (
    select
        units.serial_key,
        coalesce(units.in_service_date, units.claimed_in_service_date)
            as in_service_date,
        cast(units.quantity as decimal(24, 15)) as weight,
        case
            when units.origin <> 'register' then 'shipments'
            when units.in_service_date is null then 'claim'
            else 'register'
        end as source
    from int_units as units
    where
        coalesce(units.in_service_date, units.claimed_in_service_date) <= $as_of
    union all
    select
        spread.serial_key,
        spread.in_service_date,
        -- a unit without a date is unsold, or sold without its date written down
        cast(
            spread.weight
            / case
                when spread.is_known_sold or spread.sold >= 1 then spread.sold
                else (1 - $share_dated * spread.sold) / (1 - $share_dated)
            end as decimal(24, 15)
        ) as weight,
        'estimated' as source
    from spread
    where spread.weight > 0
    union all
    select
        stock.serial_key,
        stock.in_service_date,
        stock.weight,
        'shipments' as source
    from int_stock as stock
    union all
    select
        unsaid_weighed.serial_key,
        unsaid_weighed.in_service_date,
        cast(unsaid_weighed.quantity * unsaid_weighed.weight as decimal(24, 15))
            as weight,
        'shipments' as source
    from unsaid_weighed
)

select * from final;
