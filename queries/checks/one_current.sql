-- A key has one current row.
-- grain:  one row
-- reads:  known_rows (the current table of a kind)
with broken as (
    select known_rows.row_key as name
    from known_rows
    group by known_rows.row_key
    having count(*) > 1
),

final as (
    select
        'every key has one current row'
            as meaning,
        'different keys v. current rows' as compared,
        cast((select count(distinct known_rows.row_key) from known_rows) as double) as found,
        cast((select count(*) from known_rows) as double) as expected,
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
