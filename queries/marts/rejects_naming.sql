-- Rejected rows that name something erased, by the bytes of their file.
-- grain:  one row per rejected row
-- reads:  rejected_rows, batches
-- params: pattern (text)
select distinct
    batches.sha256,
    rejected_rows.source_row
from rejected_rows
inner join batches  -- every rejected row belongs to a batch
    on rejected_rows.batch = batches.batch
where regexp_matches(rejected_rows.value, $pattern)
order by batches.sha256, rejected_rows.source_row;
