-- What arrived: every batch of a file, with the columns it had.
-- grain:  one row per batch
-- reads:  batches
-- params: as_known (date)
with final as (
    select
        batches.batch,
        batches.file,
        batches.kind,
        batches.source,
        batches.known_on,
        batches.rows_read,
        batches.inserted,
        batches.updated,
        batches.rejected,
        array_to_string(batches.columns, ',') as columns
    from batches
    where
        batches.known_on <= $as_known
        and batches.source <> 'review'  -- answers of people, no file of a source
)

select * from final
order by batch;
