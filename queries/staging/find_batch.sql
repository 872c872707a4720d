-- The batch that loaded these bytes before, and the number of the next one.
-- grain:  one row
-- reads:  batches
-- params: sha256 (text), kind (text), source (text)
select
    max(batches.batch) filter (
        where
            batches.sha256 = $sha256
            and batches.kind = $kind
            and batches.source = $source
    ) as batch,
    coalesce(max(batches.batch), 0) + 1 as next_batch
from batches;
