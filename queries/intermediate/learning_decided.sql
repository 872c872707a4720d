-- Claims reported by the cut-off that a replaced part or an inspection decided, with
-- what the newest inspection said of the failure mode: up to $most a component, drawn
-- by a digest, so that a load of more files changes few of them.
-- grain:  one row per claim
-- reads:  classified_known, claims_known, findings_known
-- params: as_of (date), most (integer)
with inspections as (
    select
        findings.claim_no,
        max(findings.inspected_on) as inspected_on,
        max_by(
            findings.failure_mode,
            concat_ws(
                '|', findings.inspected_on, findings.part_no, findings.failure_mode
            )
        ) as failure_mode
    from findings_known as findings
    where coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
    group by findings.claim_no
),

decided as (
    select
        classified.claim_no,
        classified.component,
        case
            when inspections.failure_mode is not null then classified.failure_mode
        end as failure_mode,
        classified.source,
        inspections.inspected_on,
        claims.reported_on,
        row_number() over (
            partition by classified.component
            order by classified.source, md5(classified.claim_no), classified.claim_no
        ) as place
    from classified_known as classified
    inner join claims_known as claims  -- every classified claim is one
        on classified.claim_no = claims.claim_no
    left join inspections
        on classified.claim_no = inspections.claim_no
    where
        claims.reported_on <= $as_of
        and classified.source in ('part', 'finding')
        and classified.component <> 'unclassified'
        and coalesce(
            claims.narrative, claims.technician_note, claims.resolution
        ) is not null
),

final as (
    select
        decided.claim_no,
        decided.component,
        decided.failure_mode,
        decided.source,
        decided.inspected_on,
        decided.reported_on
    from decided
    where decided.place <= $most
)

select * from final
order by claim_no;
