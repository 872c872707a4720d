-- How erased claims were read, for another state of the warehouse.
-- grain:  one row per claim and state
-- reads:  kept_readings
select
    kept_readings.claim_no,
    kept_readings.known_on,
    kept_readings.decided,
    kept_readings.parts,
    kept_readings.with_model,
    kept_readings.component,
    kept_readings.failure_mode,
    kept_readings.other_components,
    kept_readings.safety,
    kept_readings.source,
    kept_readings.confidence,
    kept_readings.evidence,
    kept_readings.symptoms
from kept_readings
order by
    kept_readings.claim_no,
    kept_readings.known_on,
    kept_readings.decided,
    kept_readings.parts,
    kept_readings.with_model;
