-- Components and failure modes that some claim in sight has, counted or not.
-- grain:  one row per component and failure mode
-- reads:  int_claims
with final as (
    select distinct
        claims.component,
        claims.failure_mode
    from int_claims as claims
    where claims.is_wanted
)

select * from final
order by component, failure_mode;
