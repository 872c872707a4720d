-- The claims of one unit, oldest failure first, and whether each repeats an earlier
-- failure of the same component.
-- grain:  one row per claim
-- reads:  int_claims
-- params: same_event_days (integer)
with ordered as (
    select
        claims.*,
        lag(claims.failed_on) over (
            partition by claims.component
            order by claims.failed_on, claims.claim_no
        ) as previous_failed_on
    from int_claims as claims
),

final as (
    select
        ordered.claim_no,
        ordered.failed_on,
        ordered.reported_on,
        ordered.component,
        ordered.failure_mode,
        ordered.status,
        ordered.claim_class,
        ordered.is_covered,
        ordered.cover_end,
        coalesce(
            date_diff('day', ordered.previous_failed_on, ordered.failed_on)
            > $same_event_days,
            false
        ) as is_repeat,
        ordered.cost,
        ordered.currency,
        ordered.safety
    from ordered
)

select * from final
order by failed_on, claim_no;
