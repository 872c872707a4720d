-- Units of models without a register that claims speak of: how many claims do not
-- say when the unit came into service, and how many do not name it; and shipments of
-- models that have a register.
-- grain:  one row
-- reads:  int_units, units_known, shipments_known
with shipped_models as (
    select distinct int_units.model
    from int_units
    where int_units.origin = 'shipped'
),

claimed as (
    select
        units.serial,
        units.claimed_in_service_date,
        units.model in (
            select shipped_models.model from shipped_models
        ) as is_shipped
    from int_units as units
    where units.origin = 'claimed'
),

final as (
    select
        count(*) filter (where claimed.is_shipped) as n_claimed,
        count(*) filter (
            where claimed.is_shipped and claimed.claimed_in_service_date is null
        ) as n_undated,
        count(*) filter (
            where claimed.is_shipped and claimed.serial is null
        ) as n_unnamed,
        count(*) filter (where not claimed.is_shipped) as n_unmatched,
        (
            select count(distinct shipments_known.model)
            from shipments_known
            where upper(shipments_known.model) in (
                select upper(units_known.model) from units_known
            )
        ) as n_models_registered
    from claimed
)

select * from final;
