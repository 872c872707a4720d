-- The order of the versions of a key is never open.
-- grain:  one row
-- reads:  known_versions (the versions of a kind)
with ordered as (
    select
        known_versions.row_key,
        known_versions.fact_at,
        known_versions.known_on,
        known_versions.batch,
        known_versions.source_row,
        count(*) as n
    from known_versions
    group by
        known_versions.row_key,
        known_versions.fact_at,
        known_versions.known_on,
        known_versions.batch,
        known_versions.source_row
),

broken as (
    select ordered.row_key as name
    from ordered
    where ordered.n > 1
),

final as (
    select
        'the versions of a key have one order'
            as meaning,
        'places in the order v. versions' as compared,
        cast((select count(*) from ordered) as double) as found,
        cast((select count(*) from known_versions) as double) as expected,
        (select count(*) from broken) as n_broken,
        (
            select list(firsts.name order by firsts.name)
            from (
                select distinct broken.name
                from broken
                order by broken.name
                limit 5
            ) as firsts
        ) as broken_keys
)

select * from final;
