-- When units shipped without a register came into service: a month's quantity leaves
-- in four parts, each spread over the sales lag, gathered by weeks.
-- grain:  one row per row of shipments and week; the weights are units, decimals so
--         that their sums do not depend on the order of rows
-- reads:  int_units, shipment_lag (lag_days, weight)
-- params: after (date; in service after it), as_of (date; and by it)
create or replace temp table int_stock as
with quarters as (
    select
        units.serial_key,
        units.model,
        units.quantity,
        units.ship_date + cast(
            floor(
                (part.part + 0.5) / 4
                * date_diff(
                    'day', units.ship_date, units.ship_date + to_months(1)
                )
            ) as integer
        ) as left_on
    from int_units as units
    cross join range(4) as part (part)
    where units.origin = 'shipped'
),

started as (
    select
        quarters.serial_key,
        quarters.model,
        quarters.left_on + cast(shipment_lag.lag_days as integer) as started_on,
        cast(quarters.quantity * shipment_lag.weight / 4 as decimal(24, 15)) as weight
    from quarters
    cross join shipment_lag
    where
        quarters.left_on + cast(shipment_lag.lag_days as integer) > $after
        and quarters.left_on + cast(shipment_lag.lag_days as integer) <= $as_of
),

weeks as (
    select
        started.serial_key,
        started.model,
        greatest(
            least(
                date '2000-01-04'
                + 7 * cast(
                    floor(date_diff('day', date '2000-01-01', started.started_on) / 7)
                    as integer
                ),
                cast($as_of as date)
            ),
            cast($after as date) + 1
        ) as in_service_date,
        started.weight
    from started
),

final as (
    select
        weeks.serial_key,
        weeks.model,
        weeks.in_service_date,
        sum(weeks.weight) as weight
    from weeks
    group by weeks.serial_key, weeks.model, weeks.in_service_date
)

select * from final;
