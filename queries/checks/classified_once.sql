-- The stored classifications are one a claim; before version 3 another table held
-- them.
-- grain:  one row
-- reads:  classifications, claims_current
with classified as (
    select
        classifications.claim_no,
        count(*) as n
    from classifications
    group by classifications.claim_no
),

broken as (
    select coalesce(claims.claim_no, classified.claim_no, '') as name
    from claims_current as claims
    full outer join classified
        on claims.claim_no = classified.claim_no
    where
        claims.claim_no is null
        or classified.claim_no is null
        or classified.n <> 1
),

final as (
    select
        'every claim is classified exactly once'
            as meaning,
        'classifications kept v. claims' as compared,
        cast((select count(*) from classifications) as double) as found,
        cast((select count(*) from claims_current) as double) as expected,
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
