-- Files whose rows were taken out are known by their new bytes, and by the old ones.
-- reads:  files_rewritten (before, after)
-- writes: batches, erased_files
insert into erased_files by name
select distinct
    batches.batch,
    batches.sha256
from batches
inner join files_rewritten  -- only those
    on batches.sha256 = files_rewritten.before;

update batches
set sha256 = files_rewritten.after
from files_rewritten
where batches.sha256 = files_rewritten.before;
