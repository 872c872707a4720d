-- Every key that a file brought has a current row, and no other has.
-- grain:  one row
-- reads:  known_rows, known_versions (the current rows and the versions of a kind)
with brought as (
    select distinct known_versions.row_key
    from known_versions
),

broken as (
    select coalesce(known_rows.row_key, brought.row_key) as name
    from known_rows
    full outer join brought
        on known_rows.row_key = brought.row_key
    where known_rows.row_key is null or brought.row_key is null
),

final as (
    select
        'a key has a current row if some file brought it'
            as meaning,
        'keys of current rows v. keys of versions' as compared,
        cast((select count(distinct known_rows.row_key) from known_rows) as double) as found,
        cast((select count(*) from brought) as double) as expected,
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
