-- Texts of the newest months with what was read in them, at most so many of a month,
-- those whose claim number has the lowest digest: the same ones in every run.
-- grain:  one row per claim with a text
-- reads:  int_claims_read, claims_known
-- params: first_month (date), per_month (integer)
create or replace temp table int_texts as
with ranked as (
    select
        claims.claim_no,
        claims.month,
        claims.component_read = 'unclassified' as is_unclassified,
        row_number() over (
            partition by claims.month
            order by md5(claims.claim_no), claims.claim_no
        ) as preference
    from int_claims_read as claims
    inner join claims_known as versions  -- every claim in sight is a known one
        on claims.claim_no = versions.claim_no
    where
        claims.component_read is not null
        and claims.month >= $first_month
        and coalesce(versions.narrative, versions.technician_note) is not null
)

select
    ranked.claim_no,
    ranked.month,
    ranked.is_unclassified,
    ranked.preference,
    coalesce(versions.narrative, versions.technician_note) as text,
    concat_ws(' ', versions.narrative, versions.technician_note) as both_texts
from ranked
inner join claims_known as versions  -- one row a claim
    on ranked.claim_no = versions.claim_no
where ranked.preference <= $per_month;
