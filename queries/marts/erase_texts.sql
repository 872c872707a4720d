-- What was written of the claims and units that are to be erased.
-- grain:  one row per distinct text
-- reads:  leaving (kind, plain, is_whole), and the versions of what tells of them
with claims_leaving as (
    select
        versions.narrative,
        versions.technician_note,
        versions.resolution,
        case when leaving.is_whole then versions.decision_reason end as decision_reason,
        case when leaving.is_whole then versions.extra end as extra
    from claims_versions as versions
    inner join leaving  -- only those
        on leaving.kind = 'claim' and versions.claim_no = leaving.plain
),

findings_leaving as (
    select
        versions.note,
        case when leaving.is_whole then versions.extra end as extra
    from findings_versions as versions
    inner join leaving  -- only those
        on leaving.kind = 'claim' and versions.claim_no = leaving.plain
),

responses_leaving as (
    select
        versions.answer,
        versions.extra
    from responses_versions as versions
    inner join leaving  -- only those
        on
            leaving.kind = 'claim'
            and leaving.is_whole
            and versions.claim_no = leaving.plain
),

units_leaving as (
    select versions.extra
    from units_versions as versions
    inner join leaving  -- only those
        on leaving.kind = 'serial' and upper(versions.serial) = leaving.plain
),

kept_columns as (
    select extra from claims_leaving
    union all
    select extra from findings_leaving
    union all
    select extra from responses_leaving
    union all
    select extra from units_leaving
),

final as (
    select narrative as text from claims_leaving
    union
    select technician_note as text from claims_leaving
    union
    select resolution as text from claims_leaving
    union
    select decision_reason as text from claims_leaving
    union
    select note as text from findings_leaving
    union
    select answer as text from responses_leaving
    union
    select
        unnest(map_values(try_cast(kept_columns.extra as map (varchar, varchar))))
            as text
    from kept_columns
    where kept_columns.extra is not null
)

select final.text
from final
where trim(coalesce(final.text, '')) <> ''
order by final.text;
