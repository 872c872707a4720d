-- Texts and kept columns of the unit changes in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  unit_changes_versions
-- params: pattern (text)
select
    versions.rowid as place,
    cast(versions.extra as varchar) as extra
from unit_changes_versions as versions
where
    regexp_matches(
        concat_ws(
            ' ',
            cast(versions.extra as varchar),
            cast(versions.issues as varchar)
        ),
        $pattern
    )
order by place;
