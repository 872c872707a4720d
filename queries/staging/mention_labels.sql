-- Texts and kept columns of the labels in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  labels_versions
-- params: pattern (text)
select
    versions.rowid as place,
    cast(versions.extra as varchar) as extra
from labels_versions as versions
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
