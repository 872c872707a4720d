-- Every known claim has one component and one failure mode.
-- grain:  one row
-- reads:  claims_known, classified_known
with classified as (
    select
        answers.claim_no,
        count(*) as n
    from classified_known as answers
    where answers.component <> '' and answers.failure_mode <> ''
    group by answers.claim_no
),

broken as (
    select coalesce(claims.claim_no, classified.claim_no) as name
    from claims_known as claims
    full outer join classified
        on claims.claim_no = classified.claim_no
    where
        claims.claim_no is null
        or classified.claim_no is null
        or classified.n <> 1
),

final as (
    select
        'every claim has one component and one failure mode'
            as meaning,
        'answers v. claims' as compared,
        cast((select count(*) from classified_known) as double) as found,
        cast((select count(*) from claims_known) as double) as expected,
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
