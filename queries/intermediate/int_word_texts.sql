-- Words of the owners' texts that are compared over time, with the language that most
-- of their small words are of. A word counts once a text; small words are left out; a
-- pair is of two words that stand next to each other without them.
-- grain:  one row per claim and word or pair
-- reads:  int_claims, claims_known, small_words (language, word)
-- params: first_day (date), as_of (date)
create or replace temp table int_word_texts as
with texts as (
    select
        claims.claim_no,
        claims.reported_on,
        claims.component = 'unclassified' as is_unclassified,
        regexp_extract_all(
            lower(coalesce(versions.narrative, versions.technician_note)), '\p{L}{3,}'
        ) as words
    from int_claims as claims
    inner join claims_known as versions  -- one row a claim
        on claims.claim_no = versions.claim_no
    where
        claims.is_wanted
        and claims.reported_on > $first_day
        and claims.reported_on <= $as_of
),

placed as (
    select
        texts.claim_no,
        unnest(texts.words) as word,
        generate_subscripts(texts.words, 1) as place
    from texts
),

languages as (
    select
        counted.claim_no,
        max_by(counted.language, (counted.n_words, counted.language)) as language
    from (
        select
            placed.claim_no,
            small_words.language,
            count(distinct placed.word) as n_words
        from placed
        inner join small_words
            on placed.word = small_words.word
        group by placed.claim_no, small_words.language
    ) as counted
    group by counted.claim_no
),

telling as (
    select
        placed.claim_no,
        placed.word,
        lead(placed.word) over (
            partition by placed.claim_no
            order by placed.place
        ) as next_word
    from placed
    where placed.word not in (select small_words.word from small_words)
),

told as (
    select
        telling.claim_no,
        telling.word
    from telling
    union
    select
        telling.claim_no,
        telling.word || ' ' || telling.next_word as word
    from telling
    where telling.next_word is not null and telling.next_word <> telling.word
)

select
    told.claim_no,
    coalesce(languages.language, '') as language,
    texts.reported_on,
    texts.is_unclassified,
    told.word
from told
inner join texts  -- every word is of a text
    on told.claim_no = texts.claim_no
left join languages
    on told.claim_no = languages.claim_no;
