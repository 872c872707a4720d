-- Model and model year of the claims to be read: the register's, else the claim's own.
-- grain:  one row per claim
-- reads:  claims_known, units_known, unread_claims
-- params: batch (integer)
with units_listed as (
    select
        upper(units.serial) as serial_key,
        max(units.model) as model,
        max(units.model_year) as model_year
    from units_known as units
    group by upper(units.serial)
),

final as (
    select
        claims.claim_no,
        coalesce(units_listed.model, claims.model) as model,
        coalesce(units_listed.model_year, claims.model_year) as model_year
    from claims_known as claims
    inner join unread_claims  -- only those
        on claims.claim_no = unread_claims.claim_no
    left join units_listed
        on upper(claims.serial) = units_listed.serial_key
    where unread_claims.batch = $batch
)

select * from final
order by claim_no;
