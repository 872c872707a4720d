-- What claims turned out to be, and how their repair held, whatever is asked about
-- their symptoms: the part of the answer that takes long to count and can be kept.
-- grain:  one row per claim in sight
-- reads:  int_claims, classified_known, claims_known
-- params: as_of (date), repair_days (integer), same_event_days (integer)
create or replace temp table int_cause_claims as
with returns as (
    select
        claims.claim_no,
        lead(claims.failed_on) over (
            partition by claims.serial_key, claims.component
            order by claims.failed_on, claims.claim_no
        ) as next_failed_on
    from int_claims as claims
    where claims.claim_class in ('counted', 'no fault found')
),

final as (
    select
        claims.claim_no,
        classified.symptoms,
        claims.component,
        claims.failure_mode,
        claims.model,
        claims.generation,
        date_diff('day', claims.likely_in_service_date, claims.failed_on) as age_days,
        claims.claim_class = 'no fault found' as is_check,
        classified.source in ('label', 'finding', 'part') as is_established,
        facts.cost_labour,
        claims.currency,
        coalesce(
            date_diff('day', claims.failed_on, returns.next_failed_on)
            between $same_event_days + 1 and $repair_days,
            false
        ) as came_back,
        date_diff('day', claims.failed_on, cast($as_of as date)) >= $repair_days
            as is_followed
    from int_claims as claims
    inner join classified_known as classified  -- every known claim is read
        on claims.claim_no = classified.claim_no
    inner join claims_known as facts  -- the same claim
        on claims.claim_no = facts.claim_no
    left join returns
        on claims.claim_no = returns.claim_no
    where claims.is_wanted
)

select * from final;
