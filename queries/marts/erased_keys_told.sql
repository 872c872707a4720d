-- The digests of what was erased as they are kept, for another state of the warehouse.
-- grain:  one row per erasure, kind and digest
-- reads:  erased_keys
select
    erased_keys.erasure,
    erased_keys.salt,
    erased_keys.kind,
    erased_keys.digest,
    erased_keys.stand_in
from erased_keys
order by erased_keys.erasure, erased_keys.kind, erased_keys.digest;
