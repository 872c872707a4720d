-- Every text that people wrote and that the warehouse still holds.
-- grain:  one row per distinct text
-- reads:  the versions of claims, findings, responses and units
with kept_columns as (
    select versions.extra from claims_versions as versions
    union all
    select versions.extra from findings_versions as versions
    union all
    select versions.extra from units_versions as versions
),

final as (
    select versions.narrative as text from claims_versions as versions
    union
    select versions.technician_note as text from claims_versions as versions
    union
    select versions.resolution as text from claims_versions as versions
    union
    select versions.decision_reason as text from claims_versions as versions
    union
    select versions.note as text from findings_versions as versions
    union
    select versions.answer as text from responses_versions as versions
    union
    select
        unnest(map_values(try_cast(kept_columns.extra as map (varchar, varchar))))
            as text
    from kept_columns
    where kept_columns.extra is not null
)

select final.text
from final
where final.text is not null
order by final.text;
