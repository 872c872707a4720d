-- One row per key of the file: its latest change wins, the others are superseded.
-- reads:  staged
-- writes: kept, superseded_rows
create or replace temp table kept as
select staged.*
from staged
where staged.reject_reason is null
qualify
    row_number() over (
        partition by staged.row_key
        order by staged.change_at desc nulls last, staged.source_row desc
    ) = 1;
