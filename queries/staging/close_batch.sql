-- Write the row account of a batch beside it.
-- reads:  batches
-- params: batch, rows_read, inserted, updated, unchanged, superseded, rejected,
--         skipped_lines (integer)
update batches
set
    rows_read = $rows_read,
    inserted = $inserted,
    updated = $updated,
    unchanged = $unchanged,
    superseded = $superseded,
    rejected = $rejected,
    skipped_lines = $skipped_lines
where batches.batch = $batch;
