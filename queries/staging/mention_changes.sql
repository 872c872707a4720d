-- Texts and kept columns of the changes in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  changes_versions
-- params: pattern (text)
select
    versions.rowid as place,
    versions.description,
    cast(versions.extra as varchar) as extra
from changes_versions as versions
where
    regexp_matches(
        concat_ws(
            ' ',
            versions.description,
            cast(versions.extra as varchar),
            cast(versions.issues as varchar)
        ),
        $pattern
    )
order by place;
