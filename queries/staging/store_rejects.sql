-- Keep the rows that could not be typed.
-- reads:  staged
-- params: batch (integer)
insert into rejected_rows by name
select
    cast($batch as integer) as batch,
    staged.source_row,
    staged.reject_column as column_name,
    staged.reject_value as value,
    staged.reject_reason as reason
from staged
where staged.reject_reason is not null
order by staged.source_row;
