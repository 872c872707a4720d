-- Words of each month, and those of them that the twelve months before did not use.
-- grain:  one row per month
-- reads:  int_words, int_texts
with texts_counted as (
    select
        texts.month,
        count(*) as n_texts
    from int_texts as texts
    group by texts.month
),

words_counted as (
    select
        words.month,
        sum(words.n_texts)::bigint as n_words,
        coalesce(
            sum(words.n_texts) filter (
                where
                words.month_before is null
                or words.month_before < words.month - interval 12 month
            ),
            0
        )::bigint as n_unseen
    from int_words as words
    group by words.month
),

final as (
    select
        texts_counted.month,
        texts_counted.n_texts,
        coalesce(words_counted.n_words, 0) as n_words,
        coalesce(words_counted.n_unseen, 0) as n_unseen
    from texts_counted
    left join words_counted
        on texts_counted.month = words_counted.month
)

select * from final
order by month;
