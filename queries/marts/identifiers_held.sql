-- Every serial and claim number that was not erased.
-- grain:  one row per kind and identifier
-- reads:  identifiers
select
    identifiers.kind,
    identifiers.plain
from identifiers
where not starts_with(identifiers.plain, 'ERASED-')
order by identifiers.kind, identifiers.plain;
