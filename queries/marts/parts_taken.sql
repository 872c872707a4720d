-- How many pieces of each part claims took, under the number sent for it today.
-- grain:  one row per component, model, model year, generation, part and quantity
-- reads:  int_claims_told, int_parts_taken
with final as (
    select
        told.component,
        told.model,
        told.model_year,
        told.generation,
        taken.part_key,
        taken.quantity,
        count(*) as n_claims
    from int_parts_taken as taken
    inner join int_claims_told as told  -- parts of claims that tell them
        on taken.claim_no = told.claim_no
    group by
        told.component, told.model, told.model_year, told.generation, taken.part_key,
        taken.quantity
)

select * from final
order by component, model, model_year, generation, part_key, quantity;
