-- Texts and kept columns of the claims in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  claims_versions
-- params: pattern (text)
select
    versions.rowid as place,
    versions.decision_reason,
    versions.narrative,
    versions.technician_note,
    versions.resolution,
    cast(versions.extra as varchar) as extra
from claims_versions as versions
where
    regexp_matches(
        concat_ws(
            ' ',
            versions.decision_reason,
            versions.narrative,
            versions.technician_note,
            versions.resolution,
            cast(versions.extra as varchar),
            cast(versions.issues as varchar)
        ),
        $pattern
    )
order by place;
