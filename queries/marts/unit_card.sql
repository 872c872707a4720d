-- What the register, or where it does not know the unit its claims, say of one unit,
-- and how long after leaving the works units like it came into service.
-- grain:  one row, none where nobody knows the unit
-- reads:  units_known, claims_known
-- params: serial_key (varchar), as_of (date)
with registered as (
    select
        units.serial,
        units.model,
        units.model_year,
        units.generation,
        units.build_date,
        units.build_lot,
        units.plant,
        units.ship_date,
        units.in_service_date,
        units.region,
        units.dealer,
        units.retired_on,
        true as is_in_register
    from units_known as units
    where upper(units.serial) = $serial_key
),

claimed as (
    select
        max(claims.serial) as serial,
        max(claims.model) as model,
        max(claims.model_year) as model_year,
        min(claims.in_service_date) as claimed_in_service_date,
        max(claims.region) as region,
        max(claims.dealer) as dealer,
        min(coalesce(claims.failed_on, claims.reported_on)) as first_failed_on
    from claims_known as claims
    where
        upper(claims.serial) = $serial_key
        and claims.reported_on <= $as_of
    having count(*) > 0
),

lags as (
    select
        units.model = registered.model as is_same_model,
        date_diff(
            'day',
            coalesce(units.ship_date, units.build_date),
            units.in_service_date
        ) as lag_days
    from units_known as units
    cross join registered
    where
        registered.in_service_date is null
        and units.in_service_date >= coalesce(units.ship_date, units.build_date)
        and units.in_service_date <= $as_of
),

typical as (
    select
        coalesce(
            median(lags.lag_days) filter (where lags.is_same_model),
            median(lags.lag_days)
        ) as lag_days
    from lags
),

final as (
    select
        coalesce(registered.serial, claimed.serial) as serial,
        coalesce(registered.model, claimed.model) as model,
        coalesce(registered.model_year, claimed.model_year) as model_year,
        registered.generation,
        registered.build_date,
        registered.build_lot,
        registered.plant,
        registered.ship_date,
        registered.in_service_date,
        claimed.claimed_in_service_date,
        claimed.first_failed_on,
        coalesce(registered.ship_date, registered.build_date)
        + cast(typical.lag_days as integer) as likely_in_service_date,
        coalesce(registered.region, claimed.region) as region,
        coalesce(registered.dealer, claimed.dealer) as dealer,
        registered.retired_on,
        coalesce(registered.is_in_register, false) as is_in_register
    from registered
    full join claimed
        on true
    cross join typical
)

select * from final
order by serial;
