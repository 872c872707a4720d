-- Claims that the rates count, those of units that no register names, and those left
-- out because nothing tells their unit.
-- grain:  one row
-- reads:  int_claims, int_units, units_known, shipments_known
with of_units as (
    select
        claims.claim_class,
        units.origin,
        units.model in (
            select shipped.model from int_units as shipped
            where shipped.origin = 'shipped'
        ) as is_shipped
    from int_claims as claims
    left join int_units as units
        on claims.serial_key = units.serial_key
    where claims.is_wanted
),

final as (
    select
        count(*) filter (where of_units.claim_class = 'counted') as n_counted,
        count(*) filter (
            where
            of_units.claim_class = 'counted'
            and of_units.origin = 'claimed'
            and not of_units.is_shipped
        ) as n_matched,
        count(*) filter (
            where of_units.claim_class in ('no serial', 'unknown serial')
        ) as n_left_out,
        (
            select count(distinct shipments.model)
            from shipments_known as shipments
            where upper(shipments.model) in (
                select upper(units.model) from units_known as units
            )
        ) as n_models_both
    from of_units
)

select * from final;
