-- Every file is known by the digest of its bytes, and by a number of its own.
-- grain:  one row
-- reads:  batches
with broken as (
    select concat_ws(' ', 'batch', batches.batch, batches.file) as name
    from batches
    where
        not regexp_full_match(batches.sha256, '[0-9a-f]{64}')
        or batches.batch < 1
        or len(batches.columns) <> len(list_distinct(batches.columns))
),

final as (
    select
        'every file is known by the digest of its bytes'
            as meaning,
        'files with a digest v. files' as compared,
        cast((select count(*) from batches where regexp_full_match(batches.sha256, '[0-9a-f]{64}')) as double) as found,
        cast((select count(*) from batches) as double) as expected,
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
