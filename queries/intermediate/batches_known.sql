-- The batches known by a date. The table hides the warehouse's own of that name, so
-- that the views on it (rejects, flags) answer for that date too.
-- grain:  one row per batch
-- reads:  batches
-- params: as_known (date)
create or replace temp table batches as
select
    batches.batch,
    batches.file,
    batches.kind,
    batches.sha256,
    batches.source,
    batches.known_on,
    batches.columns,
    batches.rows_read,
    batches.inserted,
    batches.updated,
    batches.unchanged,
    batches.superseded,
    batches.rejected,
    batches.skipped_lines
from batches
where batches.known_on <= $as_known;
