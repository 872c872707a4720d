-- Claims that tell which parts they took, by what decides which parts fit.
-- grain:  one row per component, model, model year and generation
-- reads:  int_claims_told, int_parts_taken
with naming as (
    select distinct taken.claim_no
    from int_parts_taken as taken
),

final as (
    select
        told.component,
        told.model,
        told.model_year,
        told.generation,
        count(*) as n_claims,
        count(naming.claim_no) as n_naming
    from int_claims_told as told
    left join naming
        on told.claim_no = naming.claim_no
    group by told.component, told.model, told.model_year, told.generation
)

select * from final
order by component, model, model_year, generation;
