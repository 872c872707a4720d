-- How many claims and units lack what a rate needs.
-- grain:  one row
-- reads:  int_claims, int_units
-- params: as_of (date)
with dated as (
    select
        count(*) filter (where units.origin = 'register') as n_units,
        count(*) filter (
            where
            units.origin = 'register'
            and units.in_service_date is null
            and units.claimed_in_service_date is null
        ) as n_undated_units
    from int_units as units
    where
        units.is_wanted
        and coalesce(units.left_works_on, date '0001-01-01') <= $as_of
),

final as (
    select
        count(*) as n_claims,
        count(*) filter (where claims.component = 'unclassified')
            as n_unclassified,
        count(*) filter (where claims.claim_class = 'unknown serial')
            as n_unknown_serial,
        count(*) filter (where claims.claim_class = 'counted') as n_counted,
        count(*) filter (
            where claims.is_in_register and claims.in_service_date is null
        ) as n_undated_claims,
        any_value(dated.n_undated_units) as n_undated_units,
        any_value(dated.n_units) as n_units
    from int_claims as claims
    cross join dated
    where claims.is_wanted
)

select * from final;
