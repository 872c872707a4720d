-- Units of the register in sight without an in-service date from anywhere.
-- grain:  one row
-- reads:  int_units
with final as (
    select count(*) as n_units
    from int_units as units
    where
        units.origin = 'register'
        and units.is_wanted
        and units.in_service_date is null
        and units.claimed_in_service_date is null
)

select * from final;
