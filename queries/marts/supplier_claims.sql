-- Claims on the parts of one supplier, with what he may know of them and what they
-- cost: an open claim has no cost yet.
-- grain:  one row per claim
-- reads:  int_claims, int_claim_suppliers, int_units, claims_known, findings_known,
--         wanted (column_name, value)
-- params: suppliers (varchar[]; spellings of one name), as_of (date)
with inspected as (
    select
        findings.claim_no,
        max(findings.inspected_on) as inspected_on,
        string_agg(findings.note, ' / ' order by findings.inspected_on, findings.note)
            as finding_note
    from findings_known as findings
    where coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
    group by findings.claim_no
),

final as (
    select
        claims.claim_no,
        claims.serial,
        claims.model,
        claims.model_year,
        units.build_date,
        units.build_lot,
        claims.in_service_date,
        claims.failed_on,
        claims.reported_on,
        date_diff('day', claims.likely_in_service_date, claims.failed_on) as age_days,
        claims.component,
        claims.failure_mode,
        told.part_no,
        told.lot,
        told.told_by,
        claims.claim_class,
        claims.safety,
        claims.finding,
        inspected.inspected_on,
        case
            when claims.claim_class in ('denied', 'cancelled') then 'refused'
            when
                claims.open_until > $as_of
                and coalesce(claims.decided_on, date '9999-12-31') > $as_of
                then 'open'
            else 'settled'
        end as state,
        cast(given.cost_parts * 10000 as bigint) as cost_parts_e4,
        cast(given.cost_labour * 10000 as bigint) as cost_labour_e4,
        cast(given.cost_freight * 10000 as bigint) as cost_freight_e4,
        cast(claims.cost * 10000 as bigint) as cost_e4,
        coalesce(claims.currency, '') as currency,
        given.narrative,
        given.technician_note,
        given.resolution,
        inspected.finding_note
    from int_claims as claims
    inner join int_claim_suppliers as told  -- only claims of which it can be told
        on claims.claim_no = told.claim_no
    inner join claims_known as given  -- every claim is one of them
        on claims.claim_no = given.claim_no
    left join int_units as units
        on claims.serial_key = units.serial_key
    left join inspected
        on claims.claim_no = inspected.claim_no
    where claims.is_wanted and list_contains($suppliers, told.supplier)
)

select * from final
order by reported_on desc, claim_no;
