-- Texts whose language is to be told, at most so many of a month.
-- grain:  one row per claim
-- reads:  int_texts
-- params: per_month (integer)
with final as (
    select
        texts.claim_no,
        texts.month,
        texts.is_unclassified,
        texts.text
    from int_texts as texts
    where texts.preference <= $per_month
)

select * from final
order by month, claim_no;
