-- Claims by what they share with a question about a symptom, by what they turned out
-- to be, and by how like the unit in question theirs are. A claim shares a condition
-- when one of its keys was read in the owner's text, or its word stands in it; which
-- ones it shares is a sum of powers of two. Likeness is nested: 1 for the models asked
-- for, 2 for their generation too, 3 for the age besides; what is not asked is met.
-- grain:  one row per matches, component, failure mode, established or not, likeness
--         and currency, of claims that share a condition, and, with matches 0, of those
--         established claims that share none
-- reads:  int_cause_claims, claims_known, asked_keys (condition, key),
--         asked_words (condition, word), asked_models (model; empty for all)
-- params: generation (varchar, null for all), from_days, to_days (double, null for all)
with read_as as (
    select distinct claims.symptoms
    from int_cause_claims as claims
),

keys_met as (
    select distinct
        read_as.symptoms,
        asked_keys.condition
    from read_as
    cross join unnest(string_split(read_as.symptoms, '; ')) as symptom (key)
    inner join asked_keys
        on symptom.key = asked_keys.key
),

by_keys as (
    select
        keys_met.symptoms,
        sum(1 << keys_met.condition) as matches
    from keys_met
    group by keys_met.symptoms
),

texts as (
    select
        claims.claim_no,
        strip_accents(lower(claims.narrative)) as text
    from claims_known as claims
    where exists (select 1 from asked_words)
),

-- few texts hold the letters at all, and only these are cut into words
words_met as (
    select
        texts.claim_no,
        asked_words.condition
    from texts
    inner join asked_words
        on
            contains(texts.text, asked_words.word)
            and contains(
                ' ' || regexp_replace(texts.text, '[^a-z0-9]+', ' ', 'g'),
                ' ' || asked_words.word
            )
),

by_words as (
    select
        words_met.claim_no,
        sum(1 << words_met.condition) as matches
    from words_met
    group by words_met.claim_no
),

claims_matched as (
    select
        cast(
            coalesce(by_keys.matches, 0) + coalesce(by_words.matches, 0) as integer
        ) as matches,
        case
            when
                exists (select 1 from asked_models)
                and coalesce(claims.model, '')
                not in (select asked_models.model from asked_models)
                then 0
            when
                coalesce(claims.generation <> $generation, $generation is not null)
                then 1
            when
                $from_days is not null
                and not coalesce(
                    claims.age_days >= $from_days and claims.age_days < $to_days, false
                )
                then 2
            else 3
        end as likeness,
        claims.*
    from int_cause_claims as claims
    left join by_keys
        on claims.symptoms = by_keys.symptoms
    left join by_words
        on claims.claim_no = by_words.claim_no
),

final as (
    select
        claims.matches,
        claims.component,
        claims.failure_mode,
        claims.is_established,
        claims.likeness,
        claims.currency,
        count(*) as n_claims,
        count(*) filter (where claims.is_followed) as n_followed,
        count(*) filter (where claims.is_followed and not claims.came_back) as n_held,
        count(*) filter (where claims.cost_labour > 0) as n_paid,
        coalesce(sum(claims.cost_labour) filter (where claims.cost_labour > 0), 0)
            as paid,
        count(*) filter (where claims.cost_labour > 0 and claims.is_check)
            as n_checks_paid,
        coalesce(
            sum(claims.cost_labour) filter (
                where claims.cost_labour > 0 and claims.is_check
            ),
            0
        ) as checks_paid
    from claims_matched as claims
    where claims.matches > 0 or claims.is_established
    group by
        claims.matches,
        claims.component,
        claims.failure_mode,
        claims.is_established,
        claims.likeness,
        claims.currency
)

select * from final
order by
    matches, component, failure_mode, is_established, likeness, currency;
