-- The masked versions as their table keeps them, the keys of before, and those of now.
-- reads:  masked
-- writes: masked_versions, former_keys, touched
create or replace temp table masked_versions as
select masked.* exclude (place, old_key)
from masked;

create or replace temp table former_keys as
select distinct masked.old_key as row_key
from masked;

create or replace temp table touched as
select distinct masked.row_key
from masked;
