-- Claims reported by the cut-off, with what was known then of their state and cost.
-- An open claim has no cost yet; a claim refused after the cut-off was open at it.
-- grain:  one row per claim
-- reads:  int_claims, int_units, wanted (column_name, value)
-- params: as_of (date)
with claims_wanted as (
    select
        claims.claim_no,
        claims.serial_key,
        claims.component,
        claims.failure_mode,
        claims.model,
        claims.model_year,
        claims.region,
        claims.generation,
        claims.build_month,
        claims.dealer,
        claims.likely_in_service_date,
        claims.reported_on,
        claims.decided_on,
        claims.cost,
        coalesce(claims.currency, '') as currency,
        claims.claim_class in ('denied', 'cancelled') as is_refused,
        case
            when claims.claim_class = 'cancelled'
                then
                    coalesce(claims.closed_on, claims.decided_on, claims.reported_on)
            when claims.claim_class = 'denied'
                then
                    coalesce(claims.decided_on, claims.closed_on, claims.reported_on)
            else claims.open_until
        end as settled_on,
        case
            when claims.claim_class in ('denied', 'cancelled')
                then coalesce(claims.is_covered, true)
            else
                claims.claim_class in (
                    'counted', 'no fault found', 'unknown serial', 'no serial',
                    'no in-service date', 'before delivery',
                    'reported before failed', 'date not yet known'
                )
        end as is_under_cover
    from int_claims as claims
    where
        claims.is_wanted
        and claims.reported_on <= $as_of
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or claims.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
),

claims_stated as (
    select
        claims_wanted.*,
        case
            when claims_wanted.settled_on <= $as_of and claims_wanted.is_refused
                then 'refused'
            when claims_wanted.settled_on <= $as_of then 'settled'
            when claims_wanted.is_refused then 'open'
            when claims_wanted.decided_on <= $as_of then 'approved'
            else 'open'
        end as state
    from claims_wanted
),

final as (
    select
        claims.claim_no,
        claims.component,
        claims.failure_mode,
        coalesce(units.model, claims.model) as model,
        coalesce(units.model_year, claims.model_year) as model_year,
        claims.region,
        coalesce(units.generation, claims.generation) as generation,
        claims.build_month,
        coalesce(units.dealer, claims.dealer) as dealer,
        coalesce(units.left_works_on, claims.likely_in_service_date) as sold_on,
        claims.likely_in_service_date as started_on,
        claims.reported_on,
        claims.state,
        case when claims.state <> 'open' then claims.settled_on end as settled_on,
        -- in ten-thousandths, so that no digit is lost on the way out
        case
            when claims.state in ('settled', 'approved')
                then cast(claims.cost * 10000 as bigint)
        end as cost_e4,
        claims.currency,
        claims.is_under_cover
    from claims_stated as claims
    left join int_units as units
        on claims.serial_key = units.serial_key
)

select * from final
-- in an order that no identifier has a say in, so that draws do not hang on it
order by
    reported_on, component, failure_mode, model, model_year, region, generation,
    build_month, dealer, sold_on, started_on, settled_on, state, cost_e4, currency,
    is_under_cover, claim_no;
