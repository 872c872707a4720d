-- The current row of a key says what its versions say, folded again.
-- grain:  one row
-- reads:  known_rows (the current table of a kind), folded
with both_sides as (
    select
        *,
        1 as side
    from folded
    union all by name
    select
        *,
        -1 as side
    from known_rows
),

differing as (
    select
        both_sides.* exclude (side, folded_digest),
        sum(both_sides.side) as balance
    from both_sides
    group by all
),

broken as (
    select differing.row_key as name
    from differing
    where differing.balance <> 0
),

final as (
    select
        'the current row of a key says what its newest versions say'
            as meaning,
        'current rows that agree v. current rows' as compared,
        cast((select count(*) filter (where broken.name is null) from known_rows left join broken on known_rows.row_key = broken.name) as double) as found,
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
