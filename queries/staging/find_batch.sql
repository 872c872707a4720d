-- The batch that loaded these bytes before, and the number of the next one.
-- grain:  one row
-- reads:  batches, erased_files (bytes from before rows were taken out of a file)
-- params: sha256 (text), kind (text), source (text)
select
    max(batches.batch) filter (
        where
            (
                batches.sha256 = $sha256
                or batches.batch in (
                    select erased_files.batch from erased_files
                    where erased_files.sha256 = $sha256
                )
            )
            and batches.kind = $kind
            and batches.source = $source
    ) as batch,
    coalesce(max(batches.batch), 0) + 1 as next_batch
from batches;
