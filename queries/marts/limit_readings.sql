-- Claims inside the dates of a cover that also ends by distance: read within its
-- limit, read above it, and not read. Where claims above the limit come in, some of
-- those that were not read lie above it too.
-- grain:  one row
-- reads:  int_claim_facts, int_claims_covered
-- params: late_report_days (integer)
with final as (
    select
        count(*) filter (where facts.distance_km <= facts.limit_km) as n_within,
        count(*) filter (where facts.distance_km > facts.limit_km) as n_above,
        count(*) filter (where facts.distance_km is null) as n_unread
    from int_claim_facts as facts
    inner join int_claims_covered as covered  -- one row a claim
        on facts.claim_no = covered.claim_no
    where
        facts.unusable_class is null
        and facts.limit_km is not null
        and facts.failed_on <= covered.cover_end
        and facts.reported_on
        <= covered.cover_end + cast($late_report_days as integer)
)

select * from final;
