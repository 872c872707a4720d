-- What belongs to serials and claims that are to be erased, as the warehouse holds it.
-- grain:  one row per kind and identifier
-- reads:  named (kind, plain), and the versions and current tables
with claims_of_serials as (
    select distinct versions.claim_no as plain
    from claims_versions as versions
    inner join named  -- claims that any version gives to the unit
        on named.kind = 'serial' and upper(versions.serial) = named.plain
    -- what was erased by its number keeps the stand-in it has
    where not starts_with(versions.claim_no, 'ERASED-')
),

claims_named as (
    select distinct named.plain
    from named
    where named.kind = 'claim'
),

serials_named as (
    select distinct named.plain
    from named
    where named.kind = 'serial'
),

part_serials as (
    select distinct versions.component_serial as plain
    from fitted_parts_versions as versions
    inner join named  -- parts of the units only
        on named.kind = 'serial' and upper(versions.serial) = named.plain
    where versions.component_serial is not null
),

final as (
    select
        'serial' as kind,
        serials_named.plain
    from serials_named
    union all
    select
        'claim' as kind,
        claims_of_serials.plain
    from claims_of_serials
    union
    select
        'claim' as kind,
        claims_named.plain
    from claims_named
    union all
    select
        'part serial' as kind,
        part_serials.plain
    from part_serials
)

select distinct
    final.kind,
    final.plain
from final
order by final.kind, final.plain;
