-- The digests by which the erased are known again.
-- grain:  one row per key
-- reads:  erased_keys
select distinct
    erased_keys.salt,
    erased_keys.kind,
    erased_keys.digest,
    erased_keys.stand_in
from erased_keys
order by erased_keys.salt, erased_keys.kind, erased_keys.digest;
