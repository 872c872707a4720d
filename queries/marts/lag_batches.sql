-- Days by which claims became known.
-- grain:  one row per known-on date of a batch of claims
-- reads:  batches
-- params: as_known (date)
with final as (
    select distinct batches.known_on
    from batches
    where batches.kind = 'claims' and batches.known_on <= $as_known
)

select * from final
order by known_on;
