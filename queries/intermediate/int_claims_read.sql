-- Claims in sight with what they were read as. A reviewed claim stands under what was
-- read when it was first drawn for review, and under nothing where that is not kept:
-- reviewers take the hardest claims first, and their months would look easier.
-- grain:  one row per claim
-- reads:  int_claims, classified_known, review_samples
create or replace temp table int_claims_read as
with first_drawn as (
    select
        drawn.claim_no,
        arg_min(drawn.component, drawn.sample) as component
    from review_samples as drawn
    group by drawn.claim_no
)

select
    claims.claim_no,
    date_trunc('month', claims.reported_on) as month,
    claims.claim_class = 'counted' as is_counted,
    classified.component,
    classified.source,
    case
        when classified.source = 'label' then first_drawn.component
        else classified.component
    end as component_read
from int_claims as claims
inner join classified_known as classified  -- every claim has its classification
    on claims.claim_no = classified.claim_no
left join first_drawn
    on claims.claim_no = first_drawn.claim_no
where claims.is_wanted;
