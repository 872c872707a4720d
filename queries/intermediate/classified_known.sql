-- The classification of every known claim: the stored one where its evidence is
-- the same, else the one just made.
-- grain:  one row per claim
-- reads:  int_evidence, int_stored, fresh_classifications, asked_model
create or replace temp table classified_known as
select
    evidence.claim_no,
    coalesce(fresh.component, stored.component) as component,
    coalesce(fresh.failure_mode, stored.failure_mode) as failure_mode,
    coalesce(fresh.other_components, stored.other_components) as other_components,
    coalesce(fresh.safety, stored.safety) as safety,
    coalesce(fresh.source, stored.source) as source,
    coalesce(fresh.confidence, stored.confidence) as confidence,
    coalesce(fresh.evidence, stored.evidence) as evidence,
    coalesce(fresh.symptoms, stored.symptoms) as symptoms,
    case
        when fresh.claim_no is null then stored.digest
        when asked_model.claim_no is not null then evidence.open_digest
        else evidence.digest
    end as digest
from int_evidence as evidence
left join fresh_classifications as fresh
    on evidence.claim_no = fresh.claim_no
left join asked_model
    on evidence.claim_no = asked_model.claim_no
left join int_stored as stored
    on evidence.claim_no = stored.claim_no;
