-- A digest of everything that can decide a claim's classification, so that only
-- claims with new evidence are read again. What the terms leave open goes to the
-- learned model, if one is in use: its digest and what it sees besides enter a second
-- digest, so that a new model asks again for the open claims only.
-- grain:  one row per claim
-- reads:  claims_known, units_known, claim_parts_known, parts_known, findings_known,
--         labels_known, classifications, kept_readings
-- params: terms (text), model (text, empty for none), as_of (date),
--         batch_size (integer)

-- A part without a component of its own is of the kind of the part that superseded it,
-- or else of those that it superseded, if these agree. Chains are followed for 50 steps
-- at most: a circle of parts ends there, and is told in the flags.
create or replace temp table int_part_kinds as
with recursive successions as (
    select
        upper(parts.part_no) as older,
        upper(parts.superseded_by) as newer
    from parts_known as parts
    where parts.superseded_by is not null
),

kinds as (
    select
        upper(parts.part_no) as part_key,
        min(parts.component) as component
    from parts_known as parts
    where parts.component is not null
    group by upper(parts.part_no)
),

-- also parts that stand in the list only as what superseded another
unnamed as (
    select successions.older as part_key
    from successions
    union
    select successions.newer
    from successions
    except
    select kinds.part_key
    from kinds
),

forward as (
    select
        unnamed.part_key,
        unnamed.part_key as at_key,
        0 as steps
    from unnamed
    union all
    select
        forward.part_key,
        successions.newer as at_key,
        forward.steps + 1 as steps
    from forward
    inner join successions  -- the chain ends where none follows
        on forward.at_key = successions.older
    where
        forward.steps < 50
        and forward.at_key not in (select kinds.part_key from kinds)
),

backward as (
    select
        unnamed.part_key,
        unnamed.part_key as at_key,
        0 as steps
    from unnamed
    union all
    select
        backward.part_key,
        successions.older as at_key,
        backward.steps + 1 as steps
    from backward
    inner join successions  -- the chain ends where none went before
        on backward.at_key = successions.newer
    where
        backward.steps < 50
        and backward.at_key not in (select kinds.part_key from kinds)
),

reached as (
    select
        forward.part_key,
        kinds.component,
        forward.steps as distance
    from forward
    inner join kinds  -- where a chain reaches a kind
        on forward.at_key = kinds.part_key
    union all
    select
        backward.part_key,
        kinds.component,
        100 + backward.steps as distance
    from backward
    inner join kinds  -- where a chain reaches a kind
        on backward.at_key = kinds.part_key
),

nearest as (
    select
        reached.part_key,
        min(reached.distance) as distance
    from reached
    group by reached.part_key
)

select
    reached.part_key,
    min(reached.component) as component
from reached
inner join nearest  -- only the nearest
    on
        reached.part_key = nearest.part_key
        and reached.distance = nearest.distance
group by reached.part_key
having count(distinct lower(trim(reached.component))) = 1;

create or replace temp table int_replaced as
with named_parts as (
    select
        claims.claim_no,
        claims.part_no,
        claims.quantity
    from claims_known as claims
    where claims.part_no is not null
    union
    select
        claim_parts.claim_no,
        claim_parts.part_no,
        claim_parts.quantity
    from claim_parts_known as claim_parts
)

select
    named_parts.claim_no,
    named_parts.part_no,
    max(named_parts.quantity) as quantity,
    any_value(parts.description) as description,
    coalesce(any_value(parts.component), any_value(part_kinds.component))
        as component,
    any_value(parts.supplier) as supplier,
    count(parts.part_no) = 0 as is_unknown
from named_parts
left join parts_known as parts
    on upper(named_parts.part_no) = upper(parts.part_no)
left join int_part_kinds as part_kinds
    on upper(named_parts.part_no) = part_kinds.part_key
group by named_parts.claim_no, named_parts.part_no;

create or replace temp table int_evidence as
with parts_listed as (
    select
        replaced.claim_no,
        string_agg(
            concat_ws(
                '|', replaced.part_no, replaced.quantity, replaced.description,
                replaced.component
            ),
            ';' order by replaced.part_no
        ) as text
    from int_replaced as replaced
    group by replaced.claim_no
),

findings_listed as (
    select
        findings.claim_no,
        string_agg(
            concat_ws(
                '|', findings.inspected_on, findings.part_no, findings.finding,
                findings.component, findings.failure_mode, findings.note
            ),
            ';' order by findings.inspected_on, findings.part_no
        ) as text,
        string_agg(
            concat_ws(
                '|', findings.inspected_on, findings.part_no, findings.finding,
                findings.component, findings.failure_mode
            ),
            ';' order by findings.inspected_on, findings.part_no
        ) as facts
    from findings_known as findings
    where coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
    group by findings.claim_no
),

labels_listed as (
    select
        labels.claim_no,
        string_agg(
            concat_ws(
                '|', labels.reviewed_on, labels.reviewer, labels.component,
                labels.failure_mode
            ),
            ';' order by labels.reviewed_on, labels.reviewer
        ) as text
    from labels_known as labels
    group by labels.claim_no
),

units_listed as (
    select
        upper(units.serial) as serial_key,
        max(units.model) as model,
        max(units.model_year) as model_year
    from units_known as units
    where $model <> ''
    group by upper(units.serial)
),

digests as (
    select
        claims.claim_no,
        claims.known_on,
        coalesce(units_listed.model, claims.model) as model,
        coalesce(units_listed.model_year, claims.model_year) as model_year,
        -- without the notes, which go with the texts
        md5(
            concat_ws(
                chr(31),
                coalesce(findings_listed.facts, ''),
                coalesce(labels_listed.text, '')
            )
        ) as decided,
        md5(coalesce(parts_listed.text, '')) as parts,
        md5(
            concat_ws(
                chr(31), $terms,
                coalesce(claims.narrative, ''),
                coalesce(claims.technician_note, ''),
                coalesce(claims.resolution, ''),
                coalesce(parts_listed.text, ''),
                coalesce(findings_listed.text, ''),
                coalesce(labels_listed.text, '')
            )
        ) as digest
    from claims_known as claims
    left join parts_listed
        on claims.claim_no = parts_listed.claim_no
    left join findings_listed
        on claims.claim_no = findings_listed.claim_no
    left join labels_listed
        on claims.claim_no = labels_listed.claim_no
    left join units_listed
        on upper(claims.serial) = units_listed.serial_key
)

select
    digests.claim_no,
    digests.known_on,
    digests.decided,
    digests.parts,
    digests.digest,
    case
        when $model = '' then digests.digest
        else
            md5(
                concat_ws(
                    chr(31), digests.digest, $model,
                    coalesce(digests.model, ''),
                    coalesce(cast(digests.model_year as varchar), '')
                )
            )
    end as open_digest
from digests;

-- Claims whose texts were erased: as they were read at the state nearest to this one,
-- of those that saw the same inspections and labels if there are any.
create or replace temp table int_kept as
select
    kept_readings.claim_no,
    kept_readings.component,
    kept_readings.failure_mode,
    kept_readings.other_components,
    kept_readings.safety,
    kept_readings.source,
    kept_readings.confidence,
    kept_readings.evidence,
    kept_readings.symptoms,
    evidence.digest,
    kept_readings.decided = evidence.decided as is_same
from int_evidence as evidence
inner join kept_readings  -- only those
    on evidence.claim_no = kept_readings.claim_no
qualify
    row_number() over (
        partition by evidence.claim_no
        order by
            kept_readings.decided = evidence.decided desc,
            kept_readings.known_on <= evidence.known_on desc,
            abs(date_diff('day', kept_readings.known_on, evidence.known_on)),
            kept_readings.parts = evidence.parts desc,
            kept_readings.with_model = ($model <> '') desc,
            kept_readings.parts,
            kept_readings.with_model
    ) = 1;

-- A stored row holds where the terms decided it on this evidence, or where this model
-- was asked.
create or replace temp table int_stored as
select
    int_kept.claim_no,
    int_kept.component,
    int_kept.failure_mode,
    int_kept.other_components,
    int_kept.safety,
    int_kept.source,
    int_kept.confidence,
    int_kept.evidence,
    int_kept.symptoms,
    int_kept.digest
from int_kept
where int_kept.is_same
union all
select
    classifications.claim_no,
    classifications.component,
    classifications.failure_mode,
    classifications.other_components,
    classifications.safety,
    classifications.source,
    classifications.confidence,
    classifications.evidence,
    classifications.symptoms,
    classifications.digest
from int_evidence as evidence
inner join classifications  -- claims not read yet have no row
    on evidence.claim_no = classifications.claim_no
where
    classifications.claim_no not in (
        select int_kept.claim_no from int_kept
        where int_kept.is_same
    )
    and (
        classifications.digest = evidence.open_digest
        or (
            classifications.digest = evidence.digest
            and (
                classifications.source = 'label'
                or (
                    classifications.component <> 'unclassified'
                    and classifications.failure_mode <> 'unclassified'
                )
            )
        )
    );

create or replace temp table unread_claims as
select
    evidence.claim_no,
    (row_number() over (order by evidence.claim_no) - 1) // $batch_size as batch
from int_evidence as evidence
where evidence.claim_no not in (select int_stored.claim_no from int_stored);
