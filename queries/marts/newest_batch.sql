-- Number of the newest batch; 0 where nothing was loaded.
-- grain:  one row
-- reads:  batches
select coalesce(max(batches.batch), 0) as batch
from batches;
