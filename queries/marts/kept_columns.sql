-- Columns of the exports that were kept as they came, by the list they came in.
-- grain:  one row per list and column
-- reads:  units_known, fitted_parts_known, parts_known, claims_known
with kept as (
    select
        'units' as kind,
        unnest(json_keys(units.extra)) as column_name
    from units_known as units
    union
    select
        'fitted_parts' as kind,
        unnest(json_keys(fitted.extra)) as column_name
    from fitted_parts_known as fitted
    union
    select
        'parts' as kind,
        unnest(json_keys(parts.extra)) as column_name
    from parts_known as parts
    union
    select
        'claims' as kind,
        unnest(json_keys(claims.extra)) as column_name
    from claims_known as claims
)

select
    kept.kind,
    kept.column_name
from kept
order by kept.kind, kept.column_name;
