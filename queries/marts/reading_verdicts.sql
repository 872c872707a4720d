-- Claims by what is thought of their reading of distance, and whether a limit by
-- distance holds for them.
-- grain:  one row per verdict and limit or not
-- reads:  int_claim_facts
with final as (
    select
        facts.reading_verdict,
        facts.limit_km is not null as is_limited,
        count(*) as n_claims
    from int_claim_facts as facts
    group by facts.reading_verdict, facts.limit_km is not null
)

select * from final
order by reading_verdict, is_limited;
