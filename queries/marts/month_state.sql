-- The state of the claims at the end of a month, and what the month brought.
-- grain:  one row
-- reads:  int_claims, int_events, int_service
-- params: month_start (date), month_end (date), open_since (date)
with claims_seen as (
    select
        claims.reported_on,
        claims.done_on > $month_end as is_open
    from int_claims as claims
    where claims.is_wanted and claims.reported_on <= $month_end
),

final as (
    select
        count(*) filter (where claims.reported_on >= $month_start) as n_reported,
        count(*) filter (where claims.is_open) as n_open,
        count(*) filter (where claims.is_open and claims.reported_on < $open_since)
            as n_open_too_long,
        (
            select count(*)
            from int_events as events
            where
                events.event_no = 1
                and events.failed_on between $month_start and $month_end
        ) as n_first_failures,
        (
            select coalesce(sum(service.weight), 0)
            from int_service as service
            where service.in_service_date <= $month_end
        ) as n_units
    from claims_seen as claims
)

select * from final;
