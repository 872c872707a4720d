-- Remember which keys a file held, for the count of flagged rows at the end.
-- reads:  kept
-- params: account_no (integer), kind (text)
insert into kept_keys
select
    cast($account_no as integer) as account_no,
    $kind as kind,
    kept.row_key,
    split_part(kept.row_key, chr(31), 1) as subject
from kept;
