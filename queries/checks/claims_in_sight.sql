-- Every claim reported by the cut-off is judged once.
-- grain:  one row
-- reads:  claims_known, int_claims
-- params: as_of (date)
with reported as (
    select claims.claim_no
    from claims_known as claims
    where claims.reported_on <= $as_of
),

judged as (
    select
        claims.claim_no,
        count(*) as n,
        count(claims.claim_class) as n_classes
    from int_claims as claims
    group by claims.claim_no
),

broken as (
    select coalesce(reported.claim_no, judged.claim_no) as name
    from reported
    full outer join judged
        on reported.claim_no = judged.claim_no
    where
        reported.claim_no is null
        or judged.claim_no is null
        or judged.n <> 1
        or judged.n_classes <> 1
),

final as (
    select
        'every claim reported by the cut-off has one class'
            as meaning,
        'claims judged v. claims reported' as compared,
        cast((select count(*) from int_claims) as double) as found,
        cast((select count(*) from reported) as double) as expected,
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
