-- The claims of the tables add up to the claims in sight, whatever they are counted
-- by.
-- grain:  one row
-- reads:  int_claims, told_claims (told_by, n_claims, n_counted)
with in_sight as (
    select
        count(*) as n_claims,
        count(*) filter (where claims.claim_class = 'counted') as n_counted
    from int_claims as claims
    where claims.is_wanted
),

broken as (
    select
        concat_ws(
            ' ', 'by', told_claims.told_by, told_claims.n_claims, 'v.',
            in_sight.n_claims, 'counted', told_claims.n_counted, 'v.',
            in_sight.n_counted
        ) as name
    from told_claims
    cross join in_sight
    where
        told_claims.n_claims <> in_sight.n_claims
        or told_claims.n_counted <> in_sight.n_counted
),

final as (
    select
        'claims by class, component, model and month add up to all claims'
            as meaning,
        'sum over the tables v. claims times tables' as compared,
        cast((select sum(told_claims.n_claims) from told_claims) as double) as found,
        cast((select in_sight.n_claims * (select count(*) from told_claims) from in_sight) as double) as expected,
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
