-- A claim whose text was erased, and which what is left does not decide, stays as it
-- was read while the text was there.
-- reads:  fresh_classifications, int_kept
create or replace temp table undecided_kept as
select int_kept.*
from int_kept
inner join fresh_classifications as fresh  -- only those read just now
    on int_kept.claim_no = fresh.claim_no
where
    fresh.source <> 'label'
    and (
        fresh.component = 'unclassified'
        or (
            fresh.component = int_kept.component
            and fresh.failure_mode = 'unclassified'
        )
    );

delete from fresh_classifications
where
    fresh_classifications.claim_no in (
        select undecided_kept.claim_no from undecided_kept
    );

insert into fresh_classifications by name
select
    undecided_kept.claim_no,
    undecided_kept.component,
    undecided_kept.failure_mode,
    undecided_kept.other_components,
    undecided_kept.safety,
    undecided_kept.source,
    undecided_kept.confidence,
    undecided_kept.evidence,
    undecided_kept.symptoms
from undecided_kept;

-- a danger that the text told of does not end with the text
update fresh_classifications
set safety = 'yes'
from int_kept
where
    fresh_classifications.claim_no = int_kept.claim_no
    and int_kept.safety = 'yes';
