-- Claims with the dealer who made them, and what may be asked about.
-- grain:  one row per claim of a dealer that was neither cancelled nor denied
-- reads:  int_claims
-- params: as_of (date), repair_days, same_event_days (integer)
with claims_of_dealers as (
    select
        claims.claim_no,
        claims.dealer,
        claims.component,
        claims.finding,
        claims.failed_on,
        claims.cost,
        claims.currency,
        lead(claims.failed_on) over (
            partition by claims.serial_key, claims.component
            order by claims.failed_on, claims.claim_no
        ) as next_failed_on
    from int_claims as claims
    where
        claims.is_wanted
        and claims.serial_key is not null
        and claims.claim_class not in ('cancelled', 'denied')
),

final as (
    select
        claims.claim_no,
        claims.dealer,
        claims.component,
        coalesce(claims.currency, '') as currency,
        claims.cost,
        claims.finding is not null as is_inspected,
        coalesce(claims.finding = 'no fault found', false) as is_sound,
        date_diff('day', claims.failed_on, cast($as_of as date)) >= $repair_days
            as is_followed,
        coalesce(
            date_diff('day', claims.failed_on, claims.next_failed_on)
            between $same_event_days + 1 and $repair_days,
            false
        ) as came_back
    from claims_of_dealers as claims
    where coalesce(claims.dealer, '') <> ''
)

select * from final
order by claim_no;
