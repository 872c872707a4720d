-- Texts and kept columns of the findings in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  findings_versions
-- params: pattern (text)
select
    versions.rowid as place,
    versions.note,
    cast(versions.extra as varchar) as extra
from findings_versions as versions
where
    regexp_matches(
        concat_ws(
            ' ',
            versions.note,
            cast(versions.extra as varchar),
            cast(versions.issues as varchar)
        ),
        $pattern
    )
order by place;
