-- Texts and kept columns of the claim parts in which an erased identifier may stand.
-- grain:  one row per version
-- reads:  claim_parts_versions
-- params: pattern (text)
select
    versions.rowid as place,
    cast(versions.extra as varchar) as extra
from claim_parts_versions as versions
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
