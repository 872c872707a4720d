-- Claims that tell of a danger, whatever their class.
-- grain:  one row per claim
-- reads:  int_claims
-- params: month_start (date), month_end (date)
with final as (
    select
        claims.claim_no,
        claims.component,
        claims.reported_on
    from int_claims as claims
    where
        claims.safety = 'yes'
        and claims.is_wanted
        and claims.reported_on between $month_start and $month_end
)

select * from final
order by reported_on desc, claim_no;
