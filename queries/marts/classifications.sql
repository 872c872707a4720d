-- Component and failure mode of each claim known at the cut-off, with evidence.
-- grain:  one row per claim
-- reads:  classified_known, int_claims, int_carriers, int_part_suppliers,
--         wanted (column_name, value)
with final as (
    select
        classified.claim_no,
        classified.component,
        classified.failure_mode,
        classified.other_components,
        classified.safety,
        classified.source,
        classified.confidence,
        classified.evidence
    from classified_known as classified
    inner join int_claims as claims  -- known at the cut-off
        on classified.claim_no = claims.claim_no
    left join int_carriers as carriers
        on
            claims.serial_key = carriers.serial_key
            and claims.component = carriers.component
    left join int_part_suppliers as replaced
        on
            claims.serial_key = replaced.serial_key
            and claims.component = replaced.component
    where
        claims.is_wanted
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or classified.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
        and (
            not exists (select 1 from wanted where wanted.column_name = 'supplier')
            or coalesce(carriers.supplier, replaced.supplier, 'unknown') in (
                select wanted.value
                from wanted
                where wanted.column_name = 'supplier'
            )
        )
)

select * from final
order by claim_no;
