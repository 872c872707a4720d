-- Who supplied the part that was replaced first, where no register of fitted parts
-- says it.
-- grain:  one row per unit and component
-- reads:  int_claims, int_replaced
create or replace temp table int_part_suppliers as
with claim_suppliers as (
    select
        replaced.claim_no,
        min(replaced.supplier) as supplier
    from int_replaced as replaced
    where replaced.supplier is not null
    group by replaced.claim_no
)

select
    claims.serial_key,
    claims.component,
    arg_min(claim_suppliers.supplier, claims.failed_on) as supplier
from int_claims as claims
inner join claim_suppliers  -- only claims whose part tells a supplier
    on claims.claim_no = claim_suppliers.claim_no
where claims.claim_class = 'counted'
group by claims.serial_key, claims.component;
