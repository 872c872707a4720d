-- Words of three letters and more, with the month that used them last before: a word
-- counts once a text.
-- grain:  one row per word and month
-- reads:  int_texts
create or replace temp table int_words as
with words_told as (
    select
        texts.month,
        unnest(
            list_distinct(
                regexp_extract_all(lower(texts.both_texts), '\p{L}{3,}')
            )
        ) as word
    from int_texts as texts
),

words_counted as (
    select
        words_told.word,
        words_told.month,
        count(*) as n_texts
    from words_told
    group by words_told.word, words_told.month
)

select
    words_counted.word,
    words_counted.month,
    words_counted.n_texts,
    lag(words_counted.month) over (
        partition by words_counted.word
        order by words_counted.month
    ) as month_before
from words_counted;
