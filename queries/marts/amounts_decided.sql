-- What was requested and what was approved, over the claims decided in a span of days.
-- Only claims that tell both amounts can be compared; the others are counted.
-- grain:  one row per currency
-- reads:  int_claims, claims_known
-- params: from_day (date), to_day (date)
with claims_decided as (
    select
        coalesce(known.currency, '') as currency,
        known.amount_requested,
        known.amount_approved,
        claims.status = 'denied' as is_denied,
        known.amount_requested is not null
        and (known.amount_approved is not null or claims.status = 'denied')
            as is_told,
        case when claims.status = 'denied' then 0 else known.amount_approved end
            as approved
    from int_claims as claims
    inner join claims_known as known  -- every claim is a known one
        on claims.claim_no = known.claim_no
    where
        claims.is_wanted
        and claims.decided_on between $from_day and $to_day
        and claims.status in ('approved', 'closed', 'denied')
),

final as (
    select
        claims_decided.currency,
        count(*) as n_decided,
        count(*) filter (where claims_decided.is_told) as n_told,
        count(*) filter (where claims_decided.is_denied) as n_denied,
        count(*) filter (
            where
            claims_decided.is_told
            and not claims_decided.is_denied
            and claims_decided.approved < claims_decided.amount_requested
        ) as n_cut,
        cast(
            sum(claims_decided.amount_requested) filter (where claims_decided.is_told)
            as double
        ) as requested,
        cast(
            sum(claims_decided.approved) filter (where claims_decided.is_told)
            as double
        ) as approved
    from claims_decided
    group by claims_decided.currency
)

select * from final
order by currency;
