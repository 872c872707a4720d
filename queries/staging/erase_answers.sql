-- Take what is erased out of what was made from the claims.
-- reads:  erasing
-- writes: classifications, review_samples, review_repeats, alarms_told, kept_readings
-- params: evidence (text)

-- they are filled again from what is kept of their reading
delete from classifications
where
    classifications.claim_no in (
        select erasing.plain from erasing
        where erasing.kind = 'claim'
    );

update review_samples
set
    claim_no = erasing.stand_in,
    evidence = $evidence
from erasing
where erasing.kind = 'claim' and review_samples.claim_no = erasing.plain;

update review_repeats
set claim_no = erasing.stand_in
from erasing
where erasing.kind = 'claim' and review_repeats.claim_no = erasing.plain;

update alarms_told
set subject = erasing.stand_in
from erasing
where erasing.kind = 'claim' and alarms_told.subject = erasing.plain;

update kept_readings
set claim_no = erasing.stand_in
from erasing
where erasing.kind = 'claim' and kept_readings.claim_no = erasing.plain;
