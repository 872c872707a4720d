-- Remember an erasure: that it was done, and by what its rows are known again.
-- reads:  keys_made (salt, kind, digest, stand_in), readings_made
-- params: erasure, salt, erased_at, what, reason, proof (text)
insert into erasures by name
select
    $erasure as erasure,
    $salt as salt,
    $erased_at as erased_at,
    $what as what,
    $reason as reason,
    cast($proof as json) as proof;

insert into erased_keys by name
select
    $erasure as erasure,
    keys_made.salt,
    keys_made.kind,
    keys_made.digest,
    keys_made.stand_in
from keys_made;

insert into kept_readings by name
select
    coalesce(erasing.stand_in, readings_made.claim_no) as claim_no,
    readings_made.* exclude (claim_no)
from readings_made
left join erasing
    on erasing.kind = 'claim' and readings_made.claim_no = erasing.plain;
