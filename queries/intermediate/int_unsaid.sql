-- Units of models without a register that claims speak of: how many claims do not
-- say when the unit came into service, and how many do not name it.
-- grain:  one row
-- reads:  int_units
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
        ) as n_unnamed
    from claimed
)

select * from final;
