-- Remember in an older state how claims were read that it does not hold itself.
-- reads:  readings_known
-- writes: kept_readings
insert into kept_readings by name
select known.* replace (cast(known.known_on as date) as known_on)
from readings_known as known
where
    known.claim_no not in (
        select kept_readings.claim_no
        from kept_readings
    );
