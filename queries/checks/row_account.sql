-- Every row of every file became exactly one thing.
-- grain:  one row
-- reads:  batches
with accounts as (
    select
        batches.batch,
        batches.file,
        batches.rows_read,
        batches.inserted + batches.updated + batches.unchanged + batches.superseded
            + batches.rejected as n_placed
    from batches
),

broken as (
    select concat_ws(' ', 'batch', accounts.batch, accounts.file) as name
    from accounts
    where accounts.rows_read <> accounts.n_placed
),

final as (
    select
        'every row of every file became exactly one thing'
            as meaning,
        'rows read v. inserted, updated, unchanged, superseded and rejected' as compared,
        cast((select sum(accounts.rows_read) from accounts) as double) as found,
        cast((select sum(accounts.n_placed) from accounts) as double) as expected,
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
