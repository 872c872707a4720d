-- Every version came with a file of its kind and is known since that file.
-- grain:  one row
-- reads:  known_versions (the versions of a kind), batches
-- params: kind (varchar)
with placed as (
    select
        known_versions.row_key,
        coalesce(
            batches.kind = $kind
            and batches.known_on = known_versions.known_on
            and known_versions.source_row >= 0,
            false
        ) as is_placed
    from known_versions
    left join batches
        on known_versions.batch = batches.batch
),

broken as (
    select placed.row_key as name
    from placed
    where not placed.is_placed
),

final as (
    select
        'every version came with a file of its kind, and is known since that file'
            as meaning,
        'versions of known files v. versions' as compared,
        cast((select count(*) from placed where placed.is_placed) as double) as found,
        cast((select count(*) from placed) as double) as expected,
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
