-- The erasures that were done, oldest first.
-- grain:  one row per erasure
-- reads:  erasures
select
    erasures.erasure,
    erasures.erased_at,
    erasures.what,
    erasures.reason,
    cast(erasures.proof as varchar) as proof
from erasures
order by erasures.erased_at, erasures.erasure;
