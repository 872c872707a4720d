-- What claims turned out to be whose owner complained of a component. Only those count
-- whose cause other evidence than the owner's words establishes.
-- grain:  one row per component that was the cause
-- reads:  int_cause_claims
-- params: component (varchar)
with final as (
    select
        claims.component,
        count(*) as n_claims,
        count(*) filter (where claims.is_check) as n_no_fault_found
    from int_cause_claims as claims
    where
        claims.is_established
        and list_contains(string_split(claims.symptoms, '; '), $component)
    group by claims.component
)

select * from final
order by n_claims desc, component;
