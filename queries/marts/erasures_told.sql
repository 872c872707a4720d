-- The erasures as they are kept, for another state of the warehouse.
-- grain:  one row per erasure
-- reads:  erasures
select
    erasures.erasure,
    erasures.salt,
    erasures.erased_at,
    erasures.what,
    erasures.reason,
    cast(erasures.proof as varchar) as proof
from erasures
order by erasures.erasure;
