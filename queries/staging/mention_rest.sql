-- Other places where an erased identifier may stand: names of files, values of
-- rejected rows, reasons of acknowledgements, words of evidence, alarms.
-- grain:  one row per place
-- reads:  batches, rejected_rows, signal_acknowledgements, classifications,
--         review_samples, alarms_told
-- params: pattern (text)
with texts as (
    select
        'batches' as held_in,
        batches.rowid as place,
        batches.file as text
    from batches
    union all
    select
        'rejected_rows' as held_in,
        rejected_rows.rowid as place,
        rejected_rows.value as text
    from rejected_rows
    union all
    select
        'signal_acknowledgements' as held_in,
        acknowledgements.rowid as place,
        acknowledgements.reason as text
    from signal_acknowledgements as acknowledgements
    union all
    select
        'classifications' as held_in,
        classifications.rowid as place,
        classifications.evidence as text
    from classifications
    union all
    select
        'review_samples' as held_in,
        review_samples.rowid as place,
        review_samples.evidence as text
    from review_samples
    union all
    select
        'alarms_told' as held_in,
        alarms_told.rowid as place,
        alarms_told.subject as text
    from alarms_told
)

select
    texts.held_in,
    texts.place,
    texts.text
from texts
where regexp_matches(texts.text, $pattern)
order by texts.held_in, texts.place;
