-- In how many texts each word stands: in the newest ones, in those before, and in
-- those of the same season a year before.
-- grain:  one row per language, group of texts ('all', 'unclassified'), window and word
--         that some newest texts hold; word '' counts all texts
-- reads:  int_word_texts, word_windows (window_months, from_day, season_from,
--         season_to)
-- params: earlier_to (date), least_texts (integer)
with grouped as (
    select
        texts.language,
        'all' as text_group,
        texts.reported_on,
        texts.claim_no,
        texts.word
    from int_word_texts as texts
    union all
    select
        texts.language,
        'unclassified' as text_group,
        texts.reported_on,
        texts.claim_no,
        texts.word
    from int_word_texts as texts
    where texts.is_unclassified
),

with_totals as (
    select
        grouped.language,
        grouped.text_group,
        grouped.reported_on,
        grouped.claim_no,
        grouped.word
    from grouped
    union all
    select distinct
        grouped.language,
        grouped.text_group,
        grouped.reported_on,
        grouped.claim_no,
        '' as word
    from grouped
),

final as (
    select
        with_totals.language,
        with_totals.text_group,
        word_windows.window_months,
        with_totals.word,
        count(*) filter (
            where with_totals.reported_on > word_windows.from_day
        ) as n_recent,
        count(*) filter (
            where with_totals.reported_on <= $earlier_to
        ) as n_earlier,
        count(*) filter (
            where
            with_totals.reported_on > word_windows.season_from
            and with_totals.reported_on <= word_windows.season_to
        ) as n_season,
        min(with_totals.claim_no) filter (
            where with_totals.reported_on > word_windows.from_day
        ) as first_claim,
        max(with_totals.claim_no) filter (
            where with_totals.reported_on > word_windows.from_day
        ) as last_claim
    from with_totals
    cross join word_windows
    group by
        with_totals.language,
        with_totals.text_group,
        word_windows.window_months,
        with_totals.word
    having
        with_totals.word = ''
        or count(*) filter (
            where with_totals.reported_on > word_windows.from_day
        ) >= $least_texts
)

select * from final
order by language, text_group, window_months, word;
