-- The newest texts of owners for each failure mode of a component.
-- grain:  one row per claim
-- reads:  int_claims, claims_known
-- params: component (varchar), newest (integer; texts a failure mode)
with claims_ranked as (
    select
        claims.claim_no,
        claims.failure_mode,
        claims.reported_on,
        claims.model,
        -- more than is shown; nobody reads a megabyte
        left(facts.narrative, 4000) as narrative,
        length(facts.narrative) as n_characters,
        count(*) over (partition by claims.failure_mode) as n_of_mode,
        row_number() over (
            partition by claims.failure_mode
            order by claims.reported_on desc, claims.claim_no desc
        ) as place
    from int_claims as claims
    inner join claims_known as facts  -- the same claim
        on claims.claim_no = facts.claim_no
    where
        claims.is_wanted
        and claims.component = $component
        and claims.claim_class <> 'cancelled'
        and trim(coalesce(facts.narrative, '')) <> ''
),

final as (
    select
        claims_ranked.claim_no,
        claims_ranked.failure_mode,
        claims_ranked.reported_on,
        claims_ranked.model,
        claims_ranked.narrative,
        claims_ranked.n_characters,
        claims_ranked.n_of_mode,
        claims_ranked.place
    from claims_ranked
    where claims_ranked.place <= $newest
)

select * from final
order by place, n_of_mode desc, failure_mode, claim_no;
