-- Write the texts of those places again.
-- reads:  rewritten (held_in, place, text)
-- writes: batches, rejected_rows, signal_acknowledgements, classifications,
--         review_samples, alarms_told
update batches
set file = rewritten.text
from rewritten
where rewritten.held_in = 'batches' and batches.rowid = rewritten.place;

-- a rejected row that names the person may be the whole line
update rejected_rows
set value = null
from rewritten
where rewritten.held_in = 'rejected_rows' and rejected_rows.rowid = rewritten.place;

update signal_acknowledgements
set reason = rewritten.text
from rewritten
where
    rewritten.held_in = 'signal_acknowledgements'
    and signal_acknowledgements.rowid = rewritten.place;

update classifications
set evidence = rewritten.text
from rewritten
where
    rewritten.held_in = 'classifications'
    and classifications.rowid = rewritten.place;

update review_samples
set evidence = rewritten.text
from rewritten
where
    rewritten.held_in = 'review_samples' and review_samples.rowid = rewritten.place;

update alarms_told
set subject = rewritten.text
from rewritten
where rewritten.held_in = 'alarms_told' and alarms_told.rowid = rewritten.place;
