-- The bytes of files before and after rows were taken out of them.
-- grain:  one row per file as it was
-- reads:  erased_files, batches
select distinct
    erased_files.sha256 as before,
    batches.sha256 as after
from erased_files
inner join batches  -- what was rewritten belongs to a batch
    on erased_files.batch = batches.batch
order by before, after;
