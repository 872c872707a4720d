-- The costs by component and month add up to the costs of the claims, by currency.
-- grain:  one row
-- reads:  int_claims, told_costs (currency, cost)
with claims_costed as (
    select
        coalesce(claims.currency, '') as currency,
        sum(claims.cost) as cost
    from int_claims as claims
    where
        claims.is_wanted
        and claims.claim_class not in ('cancelled', 'denied')
        and claims.cost > 0
    group by coalesce(claims.currency, '')
),

broken as (
    select
        concat_ws(
            ' ', coalesce(told_costs.currency, claims_costed.currency),
            coalesce(told_costs.cost, 0), 'v.', coalesce(claims_costed.cost, 0)
        ) as name
    from told_costs
    full outer join claims_costed
        on told_costs.currency = claims_costed.currency
    where
        abs(coalesce(told_costs.cost, 0) - coalesce(claims_costed.cost, 0))
        > 1e-6 * (1 + abs(coalesce(claims_costed.cost, 0)))
),

final as (
    select
        'the costs by component and month add up to the costs of the claims'
            as meaning,
        'costs in the tables v. costs of claims, all currencies' as compared,
        cast((select coalesce(sum(told_costs.cost), 0) from told_costs) as double) as found,
        cast((select coalesce(sum(claims_costed.cost), 0) from claims_costed) as double) as expected,
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
