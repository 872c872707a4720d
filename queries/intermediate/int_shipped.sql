-- Units that no register names. Of models without a register: what was shipped, by
-- month. And the units of claims whose serial no register knows (each serial one
-- unit, a claim without a serial a unit of its own), where the model was shipped
-- without a register, or the model is registered and the claim says when the unit
-- came into service. Such a unit is one of those shipped or registered: it takes the
-- place of one like it, which counts as less than nothing.
-- grain:  one row per month of shipments, one per such unit and one for its place
-- reads:  units_known, shipments_known, claims_known, classified_known
-- params: as_of (date)
create or replace temp table int_shipped as
with models_registered as (
    select
        upper(units.model) as model_key,
        min(units.model) as model
    from units_known as units
    group by upper(units.model)
),

regions_registered as (
    select distinct
        upper(units.model) as model_key,
        units.region
    from units_known as units
    where units.region is not null
),

years_registered as (
    select distinct
        upper(units.model) as model_key,
        units.model_year
    from units_known as units
),

shipments as (
    select
        upper(shipments.model) as model_key,
        shipments.model,
        shipments.model_year,
        coalesce(shipments.region, '') as region,
        cast(date_trunc('month', shipments.month) as date) as ship_date,
        cast(sum(shipments.quantity) as bigint) as quantity
    from shipments_known as shipments
    where
        date_trunc('month', shipments.month) <= $as_of
        and upper(shipments.model) not in (
            select models_registered.model_key from models_registered
        )
    group by
        shipments.model,
        shipments.model_year,
        coalesce(shipments.region, ''),
        date_trunc('month', shipments.month)
    having sum(shipments.quantity) <> 0
),

models_shipped as (
    select
        shipments.model_key,
        min(shipments.model) as model,
        min(shipments.model_year) as first_year,
        max(shipments.model_year) as last_year,
        bool_or(shipments.region <> '') as has_regions
    from shipments
    group by shipments.model_key
),

claims_unmatched as (
    select
        coalesce(
            upper(claims.serial), chr(31) || 'claim ' || claims.claim_no
        ) as serial_key,
        claims.serial,
        upper(claims.model) as model_key,
        claims.model_year,
        claims.region,
        claims.dealer,
        claims.in_service_date,
        case
            when claims.failed_on <= $as_of then claims.failed_on
            else claims.reported_on
        end as failed_on,
        claims.claim_no,
        coalesce(classified.component, 'unclassified') as component
    from claims_known as claims
    left join classified_known as classified
        on claims.claim_no = classified.claim_no
    where
        claims.reported_on <= $as_of
        and not exists (
            select 1
            from units_known as units
            where upper(units.serial) = upper(claims.serial)
        )
),

units_claimed as (
    select
        unmatched.serial_key,
        arg_min(unmatched.serial, unmatched.claim_no) as serial,
        arg_min(unmatched.model_key, unmatched.claim_no) as model_key,
        arg_min(unmatched.model_year, unmatched.claim_no) as model_year,
        arg_min(unmatched.region, unmatched.claim_no) as region,
        arg_min(unmatched.dealer, unmatched.claim_no) as dealer,
        min(unmatched.in_service_date) as in_service_date,
        min(unmatched.failed_on) as first_failed_on,
        arg_min(
            unmatched.component, (unmatched.failed_on, unmatched.claim_no)
        ) as first_component
    from claims_unmatched as unmatched
    where
        unmatched.model_key in (
            select models_registered.model_key from models_registered
            union all
            select models_shipped.model_key from models_shipped
        )
    group by unmatched.serial_key
),

units_placed as (
    select
        claimed.serial_key,
        claimed.serial,
        coalesce(models_shipped.model, models_registered.model) as model,
        case
            when models_shipped.first_year = models_shipped.last_year
                then models_shipped.first_year
            when models_shipped.model is not null then claimed.model_year
            when years_registered.model_year is not null then claimed.model_year
        end as model_year,
        case
            when
                models_shipped.has_regions
                or regions_registered.region is not null
                then coalesce(claimed.region, '')
            else ''
        end as region,
        claimed.dealer,
        claimed.in_service_date,
        claimed.first_failed_on,
        claimed.first_component
    from units_claimed as claimed
    left join models_shipped
        on claimed.model_key = models_shipped.model_key
    left join models_registered
        on claimed.model_key = models_registered.model_key
    left join regions_registered
        on
            claimed.model_key = regions_registered.model_key
            and claimed.region = regions_registered.region
    left join years_registered
        on
            claimed.model_key = years_registered.model_key
            and claimed.model_year = years_registered.model_year
    where models_shipped.model is not null or claimed.in_service_date is not null
),

final as (
    select
        chr(31) || concat_ws(
            chr(31),
            shipments.model,
            shipments.model_year,
            shipments.region,
            shipments.ship_date
        ) as serial_key,
        null as serial,
        shipments.model,
        shipments.model_year,
        shipments.region,
        null as dealer,
        shipments.ship_date,
        cast(null as date) as claimed_in_service_date,
        cast(null as date) as first_failed_on,
        null as first_component,
        'shipped' as origin,
        shipments.quantity
    from shipments
    union all
    select
        placed.serial_key,
        placed.serial,
        placed.model,
        placed.model_year,
        placed.region,
        placed.dealer,
        cast(null as date) as ship_date,
        placed.in_service_date as claimed_in_service_date,
        placed.first_failed_on,
        placed.first_component,
        'claimed' as origin,
        1 as quantity
    from units_placed as placed
    union all
    select
        placed.serial_key || chr(31) || 'place' as serial_key,
        null as serial,
        placed.model,
        placed.model_year,
        placed.region,
        null as dealer,
        cast(null as date) as ship_date,
        placed.in_service_date as claimed_in_service_date,
        placed.first_failed_on,
        placed.first_component,
        'place' as origin,
        -1 as quantity
    from units_placed as placed
)

select * from final;
