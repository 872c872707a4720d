-- What stands in columns of claims and findings that were kept as they came.
-- grain:  one row per column and value
-- reads:  claims_known, findings_known
with kept as (
    select try_cast(claims.extra as map (varchar, varchar)) as columns_kept
    from claims_known as claims
    union all
    select try_cast(findings.extra as map (varchar, varchar)) as columns_kept
    from findings_known as findings
),

told as (
    select
        unnest(map_keys(kept.columns_kept)) as column_name,
        unnest(map_values(kept.columns_kept)) as told
    from kept
),

final as (
    select distinct
        told.column_name,
        told.told
    from told
    where trim(told.told) <> ''
)

select * from final
order by column_name, told;
