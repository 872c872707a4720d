-- What owners complained of in claims of a component whose cause other evidence than
-- the owner's words establishes. A claim may tell of several things. The row without a
-- symptom counts all these claims, those in which nothing could be read among them.
-- grain:  one row per symptom
-- reads:  int_cause_claims
-- params: component (varchar)
with own_claims as (
    select
        claims.claim_no,
        coalesce(claims.symptoms, '') as symptoms
    from int_cause_claims as claims
    where claims.is_established and claims.component = $component
),

symptoms_told as (
    select distinct
        own_claims.claim_no,
        told.symptom
    from own_claims
    cross join unnest(string_split(own_claims.symptoms, '; ')) as told (symptom)
    where told.symptom <> ''
),

final as (
    select
        symptoms_told.symptom,
        count(*) as n_claims
    from symptoms_told
    group by symptoms_told.symptom
    union all
    select
        null as symptom,
        count(*) as n_claims
    from own_claims
    union all
    select
        '' as symptom,
        count(*) as n_claims
    from own_claims
    where own_claims.symptoms = ''
)

select * from final
order by n_claims desc, symptom nulls first;
