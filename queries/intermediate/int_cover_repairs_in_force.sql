-- Repairs under cover: those that do prolong it.
-- grain:  one row per claim, effect and rule
-- reads:  int_cover_repairs, int_claims_covered
create or replace temp table int_cover_repairs_in_force as
select
    repairs.claim_no,
    repairs.effect,
    repairs.serial_key,
    repairs.component,
    repairs.failed_on,
    repairs.reported_on,
    repairs.repaired_on,
    repairs.ends_on,
    repairs.distance_km
from int_cover_repairs as repairs
inner join int_claims_covered as covered  -- one row a claim
    on repairs.claim_no = covered.claim_no
where covered.is_covered;
