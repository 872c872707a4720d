-- Claims that share a complaint, with what they turned out to be. A claim shares a
-- condition when one of its keys was read in the owner's text, or its word stands in
-- it; which ones it shares is a sum of powers of two.
-- grain:  one row per claim in sight that shares a condition, and, with matches 0,
--         those established claims that share none
-- reads:  int_claims, classified_known, claims_known,
--         asked_keys (condition, key), asked_words (condition, word)
-- params: as_of (date), repair_days (integer), same_event_days (integer)
with told as (
    select
        classified.claim_no,
        asked_keys.condition
    from classified_known as classified
    cross join unnest(string_split(classified.symptoms, '; ')) as symptom (key)
    inner join asked_keys
        on symptom.key = asked_keys.key
    union
    select
        claims.claim_no,
        asked_words.condition
    from claims_known as claims
    inner join asked_words
        on contains(
            ' ' || regexp_replace(
                strip_accents(lower(claims.narrative)), '[^a-z0-9]+', ' ', 'g'
            ),
            ' ' || asked_words.word
        )
),

matched as (
    select
        told.claim_no,
        cast(sum(1 << told.condition) as integer) as matches
    from told
    group by told.claim_no
),

returns as (
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
        coalesce(matched.matches, 0) as matches,
        claims.component,
        claims.failure_mode,
        claims.model,
        claims.generation,
        date_diff('day', claims.likely_in_service_date, claims.failed_on) as age_days,
        claims.claim_class,
        classified.source in ('label', 'finding', 'part') as is_established,
        facts.cost_labour,
        claims.currency,
        returns.next_failed_on is not null
        and date_diff('day', claims.failed_on, returns.next_failed_on)
        between $same_event_days + 1 and $repair_days as came_back,
        date_diff('day', claims.failed_on, cast($as_of as date)) >= $repair_days
            as is_followed
    from int_claims as claims
    inner join classified_known as classified  -- every known claim is read
        on claims.claim_no = classified.claim_no
    inner join claims_known as facts  -- the same claim
        on claims.claim_no = facts.claim_no
    left join matched
        on claims.claim_no = matched.claim_no
    left join returns
        on claims.claim_no = returns.claim_no
    where
        claims.is_wanted
        and (
            matched.matches is not null
            or classified.source in ('label', 'finding', 'part')
        )
)

select * from final
order by claim_no;
