-- Units that must have been sold by now, with and without claims, and how many of
-- them have an in-service date in the register. Where dates are written down when a
-- claim is made, the dated units are the claimed ones.
-- grain:  one row
-- reads:  int_units
-- params: as_of (date)
with sold as (
    select
        units.first_failed_on is not null as has_claim,
        units.in_service_date is not null as is_dated
    from int_units as units
    where
        units.origin = 'register'
        and units.left_works_on <= cast($as_of as date) - 365
),

final as (
    select
        count(*) filter (where sold.has_claim) as n_claimed,
        count(*) filter (where sold.has_claim and sold.is_dated) as n_claimed_dated,
        count(*) filter (where not sold.has_claim) as n_quiet,
        count(*) filter (where not sold.has_claim and sold.is_dated)
            as n_quiet_dated
    from sold
)

select * from final;
