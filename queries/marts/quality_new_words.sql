-- The words of some months that the twelve months before did not use, where several
-- texts hold them: a single text may hold a name.
-- grain:  one row per month and word
-- reads:  int_words
-- params: months (date[]), least_texts (integer)
with final as (
    select
        words.month,
        words.word,
        words.n_texts
    from int_words as words
    where
        list_contains($months, cast(words.month as date))
        and words.n_texts >= $least_texts
        and (
            words.month_before is null
            or words.month_before < words.month - interval 12 month
        )
)

select * from final
order by month, n_texts desc, word;
