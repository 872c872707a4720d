-- Texts and kept columns of the responses in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  responses_versions
-- params: pattern (text)
select
    versions.rowid as place,
    versions.answer,
    cast(versions.extra as varchar) as extra
from responses_versions as versions
where
    regexp_matches(
        concat_ws(
            ' ',
            versions.answer,
            cast(versions.extra as varchar),
            cast(versions.issues as varchar)
        ),
        $pattern
    )
order by place;
