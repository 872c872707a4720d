-- What is implausible in the warehouse as a whole, and what was rejected.

create or replace view classified_now as
select
    claim_no,
    component,
    failure_mode,
    other_components,
    safety,
    source,
    confidence,
    evidence,
    symptoms
from classifications;

create or replace view rejects as
with newest as (
    select
        max(batches.batch) as batch
    from batches
    group by batches.sha256, batches.kind, batches.source
)

select
    batches.file,
    rejected_rows.source_row as row,
    rejected_rows.column_name,
    rejected_rows.value,
    rejected_rows.reason
from rejected_rows
inner join newest  -- a file loaded again replaces its earlier rejects
    on rejected_rows.batch = newest.batch
inner join batches
    on rejected_rows.batch = batches.batch;

-- Parts that come back to themselves along superseded_by, within 50 steps.
create or replace view part_circles as
with recursive walked as (
    select
        parts.part_no,
        upper(parts.part_no) as start_key,
        upper(parts.superseded_by) as at_key,
        parts.part_no || ' > ' || parts.superseded_by as chain,
        1 as steps
    from parts_current as parts
    where parts.superseded_by is not null
    union all
    select
        walked.part_no,
        walked.start_key,
        upper(parts.superseded_by),
        walked.chain || ' > ' || parts.superseded_by,
        walked.steps + 1
    from walked
    inner join parts_current as parts
        on walked.at_key = upper(parts.part_no)
    where
        parts.superseded_by is not null
        and walked.at_key <> walked.start_key
        and walked.steps < 50
)

select
    walked.part_no,
    walked.chain
from walked
where walked.at_key = walked.start_key;

create or replace view flags_by_kind as
with register as (
    select
        count(*) as n_units
    from units_current
),

claims_seen as (
    select
        claims.*,
        units.serial is not null as in_register,
        coalesce(units.in_service_date, claims.in_service_date) as started_on,
        units.retired_on,
        register.n_units > 0 as has_register
    from claims_current as claims
    left join units_current as units
        on upper(claims.serial) = upper(units.serial)
    cross join register
),

unreadable_claims as (
    select
        claims.claim_no,
        claims.serial,
        unnest(claims.issues, recursive := true)
    from claims_current as claims
    where len(claims.issues) > 0
),

unreadable_units as (
    select
        cast(null as varchar) as claim_no,
        units.serial,
        unnest(units.issues, recursive := true)
    from units_current as units
    where len(units.issues) > 0
),

judged as (
    select claim_no, serial, column_name, value, reason from unreadable_claims
    union all
    select claim_no, serial, column_name, value, reason from unreadable_units
    union all
    select
        claims.claim_no, claims.serial, 'failed_on',
        cast(claims.failed_on as varchar), 'failed after retirement'
    from claims_seen as claims
    where claims.failed_on > claims.retired_on
    union all
    select claim_no, serial, 'serial', serial, 'serial is missing'
    from claims_seen
    where serial is null
    union all
    select claim_no, serial, 'serial', serial, 'serial is not in the unit register'
    from claims_seen
    where has_register and serial is not null and not in_register
    union all
    select
        claim_no, serial, 'failed_on', cast(failed_on as varchar),
        'failed before in service'
    from claims_seen
    where failed_on < started_on
    union all
    select
        claim_no, serial, 'reported_on', cast(reported_on as varchar),
        'reported before failed'
    from claims_seen
    where reported_on < failed_on
    union all
    select
        claim_no, serial, 'failed_on', cast(null as varchar),
        'failure date missing, report date used'
    from claims_seen
    where failed_on is null
    union all
    select
        claim_no, serial, 'decided_on', cast(decided_on as varchar),
        'decided before reported'
    from claims_seen
    where decided_on < reported_on
    union all
    select
        claim_no, serial, 'closed_on', cast(closed_on as varchar),
        'closed before reported'
    from claims_seen
    where closed_on < reported_on
    union all
    select
        claims.claim_no, claims.serial, late.column_name,
        cast(late.day as varchar), 'later than the known-on date of its file'
    from claims_seen as claims
    cross join lateral (
        values
        ('reported_on', claims.reported_on),
        ('failed_on', claims.failed_on),
        ('decided_on', claims.decided_on),
        ('closed_on', claims.closed_on)
    ) as late (column_name, day)
    where late.day > claims.known_on and claims.known_on > date '0001-01-01'
    union all
    select
        claims.claim_no, claims.serial, amounts.column_name,
        cast(amounts.amount as varchar), 'negative amount'
    from claims_seen as claims
    cross join lateral (
        values
        ('amount_requested', claims.amount_requested),
        ('amount_approved', claims.amount_approved),
        ('cost_parts', claims.cost_parts),
        ('cost_labour', claims.cost_labour),
        ('cost_freight', claims.cost_freight),
        ('cost_total', claims.cost_total)
    ) as amounts (column_name, amount)
    where amounts.amount < 0
    union all
    select
        claims.claim_no, claims.serial, 'currency', cast(null as varchar),
        'amount without currency'
    from claims_seen as claims
    where
        claims.currency is null
        and coalesce(
            claims.cost_total, claims.cost_parts, claims.cost_labour,
            claims.cost_freight, claims.amount_approved, claims.amount_requested
        ) <> 0
    union all
    select
        cast(null as varchar), units.serial, dates.column_name,
        cast(dates.day as varchar), dates.reason
    from units_current as units
    cross join lateral (
        values
        (
            'ship_date', units.ship_date, units.build_date,
            'shipped before built'
        ),
        (
            'in_service_date', units.in_service_date, units.build_date,
            'in service before built'
        ),
        (
            'retired_on', units.retired_on, units.in_service_date,
            'retired before in service'
        )
    ) as dates (column_name, day, earlier, reason)
    where dates.day < dates.earlier
    union all
    select
        cast(null as varchar), units.serial, late.column_name,
        cast(late.day as varchar), 'later than the known-on date of its file'
    from units_current as units
    cross join lateral (
        values
        ('build_date', units.build_date),
        ('ship_date', units.ship_date),
        ('in_service_date', units.in_service_date)
    ) as late (column_name, day)
    where late.day > units.known_on and units.known_on > date '0001-01-01'
),

findings_judged as (
    select
        findings.claim_no,
        unnest(findings.issues, recursive := true)
    from findings_current as findings
    where len(findings.issues) > 0
    union all
    select
        findings.claim_no,
        'claim_no',
        findings.claim_no,
        'claim is not in the warehouse'
    from findings_current as findings
    where
        not exists (
            select 1 from claims_current as claims
            where claims.claim_no = findings.claim_no
        )
),

others_judged as (
    select
        'claim_parts' as kind,
        rows.claim_no as subject,
        rows.claim_no,
        cast(null as varchar) as serial,
        unnest(rows.issues, recursive := true)
    from claim_parts_current as rows
    where len(rows.issues) > 0
    union all
    select
        'labels' as kind,
        rows.claim_no as subject,
        rows.claim_no,
        cast(null as varchar) as serial,
        unnest(rows.issues, recursive := true)
    from labels_current as rows
    where len(rows.issues) > 0
    union all
    select
        'fitted_parts' as kind,
        rows.serial as subject,
        cast(null as varchar) as claim_no,
        rows.serial,
        unnest(rows.issues, recursive := true)
    from fitted_parts_current as rows
    where len(rows.issues) > 0
    union all
    select
        'unit_changes' as kind,
        rows.serial as subject,
        cast(null as varchar) as claim_no,
        rows.serial,
        unnest(rows.issues, recursive := true)
    from unit_changes_current as rows
    where len(rows.issues) > 0
    union all
    select
        'responses' as kind,
        rows.row_key as subject,
        rows.claim_no,
        cast(null as varchar) as serial,
        unnest(rows.issues, recursive := true)
    from responses_current as rows
    where len(rows.issues) > 0
    union all
    select
        'parts' as kind,
        rows.part_no as subject,
        cast(null as varchar) as claim_no,
        cast(null as varchar) as serial,
        unnest(rows.issues, recursive := true)
    from parts_current as rows
    where len(rows.issues) > 0
    union all
    select
        'parts' as kind,
        circles.part_no as subject,
        cast(null as varchar) as claim_no,
        cast(null as varchar) as serial,
        'superseded_by',
        circles.chain,
        'parts supersede each other in a circle'
    from part_circles as circles
    union all
    select
        'changes' as kind,
        rows.change_no as subject,
        cast(null as varchar) as claim_no,
        cast(null as varchar) as serial,
        unnest(rows.issues, recursive := true)
    from changes_current as rows
    where len(rows.issues) > 0
    union all
    select
        'claim_parts',
        rows.claim_no,
        rows.claim_no,
        null,
        'claim_no',
        rows.claim_no,
        'claim is not in the warehouse'
    from claim_parts_current as rows
    where
        not exists (
            select 1 from claims_current as claims
            where claims.claim_no = rows.claim_no
        )
    union all
    select
        'labels',
        rows.claim_no,
        rows.claim_no,
        null,
        'claim_no',
        rows.claim_no,
        'claim is not in the warehouse'
    from labels_current as rows
    where
        not exists (
            select 1 from claims_current as claims
            where claims.claim_no = rows.claim_no
        )
    union all
    select
        'fitted_parts',
        rows.serial,
        null,
        rows.serial,
        'serial',
        rows.serial,
        'serial is not in the unit register'
    from fitted_parts_current as rows
    cross join register
    where
        register.n_units > 0
        and not exists (
            select 1 from units_current as units
            where upper(units.serial) = upper(rows.serial)
        )
    union all
    select
        'unit_changes',
        rows.serial,
        null,
        rows.serial,
        'serial',
        rows.serial,
        'serial is not in the unit register'
    from unit_changes_current as rows
    cross join register
    where
        register.n_units > 0
        and not exists (
            select 1 from units_current as units
            where upper(units.serial) = upper(rows.serial)
        )
),

final as (
    select
        case when judged.claim_no is null then 'units' else 'claims' end as kind,
        coalesce(judged.claim_no, upper(judged.serial)) as subject,
        judged.claim_no,
        judged.serial,
        judged.column_name,
        judged.value,
        judged.reason
    from judged
    union all
    select
        'findings' as kind,
        findings_judged.claim_no as subject,
        findings_judged.claim_no,
        cast(null as varchar) as serial,
        findings_judged.column_name,
        findings_judged.value,
        findings_judged.reason
    from findings_judged
    union all
    select
        others_judged.kind,
        others_judged.subject,
        others_judged.claim_no,
        others_judged.serial,
        others_judged.column_name,
        others_judged.value,
        others_judged.reason
    from others_judged
)

select * from final;

create or replace view flags as
select
    claim_no,
    serial,
    column_name,
    value,
    reason
from flags_by_kind;
