-- Every batch with its row account and the rows of it that are flagged today.
-- grain:  one row per batch
-- reads:  batches, flags_by_kind, claims_current, units_current, findings_current
-- params: as_known (date)
with current_subjects as (
    select
        'claims' as kind,
        claims.claim_no as subject,
        claims.last_batch as batch
    from claims_current as claims
    union all
    select
        'units' as kind,
        upper(units.serial) as subject,
        units.last_batch as batch
    from units_current as units
    union all
    select
        'findings' as kind,
        findings.claim_no as subject,
        findings.last_batch as batch
    from findings_current as findings
),

flagged_batches as (
    select
        current_subjects.batch,
        count(distinct current_subjects.subject) as n_flagged
    from current_subjects
    inner join flags_by_kind  -- only flagged rows
        on
            current_subjects.kind = flags_by_kind.kind
            and current_subjects.subject = flags_by_kind.subject
    group by current_subjects.batch
),

final as (
    select
        batches.file,
        batches.kind,
        batches.rows_read,
        batches.inserted,
        batches.updated,
        batches.unchanged,
        batches.superseded,
        batches.rejected,
        coalesce(flagged_batches.n_flagged, 0) as flagged,
        batches.skipped_lines,
        batches.batch,
        batches.sha256,
        batches.known_on
    from batches
    left join flagged_batches
        on batches.batch = flagged_batches.batch
    where batches.known_on <= $as_known
)

select * from final
order by batch;
