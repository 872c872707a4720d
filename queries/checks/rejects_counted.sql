-- The rejected rows kept are those that the row accounts count.
-- grain:  one row
-- reads:  rejected_rows, batches
with kept as (
    select
        rejected_rows.batch,
        count(*) as n_kept
    from rejected_rows
    group by rejected_rows.batch
),

broken as (
    select concat_ws(' ', 'batch', coalesce(batches.batch, kept.batch), batches.file)
            as name
    from batches
    full outer join kept
        on batches.batch = kept.batch
    where
        batches.batch is null
        or batches.rejected <> coalesce(kept.n_kept, 0)
),

final as (
    select
        'every rejected row is kept, of a file that is known'
            as meaning,
        'rejected rows kept v. rejected in the row accounts' as compared,
        cast((select count(*) from rejected_rows) as double) as found,
        cast((select coalesce(sum(batches.rejected), 0) from batches) as double) as expected,
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
