-- Distance and age at the first covered failure of each unit whose distance was read,
-- not before a month in service: earlier ones say little of a usage rate. Of several
-- the first, since whether a later one was still covered depends on the rate.
-- grain:  one row per unit
-- reads:  int_claim_facts, int_claims_covered
with readings as (
    select
        facts.serial_key,
        coalesce(facts.model, '') as model,
        date_diff('day', facts.in_service_date, facts.failed_on) as age_days,
        facts.distance_km,
        facts.limit_km,
        row_number() over (
            partition by facts.serial_key
            order by facts.failed_on, facts.claim_no
        ) as preference
    from int_claim_facts as facts
    inner join int_claims_covered as covered  -- one row a claim
        on facts.claim_no = covered.claim_no
    where
        facts.unusable_class is null
        and covered.is_covered
        -- in the unit's own cover, not that of a replaced part
        and coalesce(facts.distance_km <= facts.limit_km, true)
        and facts.distance_km is not null
        and date_diff('day', facts.in_service_date, facts.failed_on) >= 30
),

final as (
    select
        readings.model,
        readings.age_days,
        readings.distance_km,
        readings.limit_km
    from readings
    where readings.preference = 1
)

select * from final
order by model, age_days, distance_km, limit_km;
