-- Inspected claims and those without a fault found, by the groups asked for.
-- grain:  one row per group
-- reads:  int_claims, int_units, int_carriers, int_part_suppliers,
--         int_unit_columns, wanted (column_name, value)
-- params: by_model, by_model_year, by_region, by_generation, by_build_month,
--         by_supplier, by_component, by_failure_mode, by_column_1, by_column_2,
--         by_column_3 (boolean)
with claims_grouped as (
    select
        case when $by_component then claims.component end as component,
        case when $by_failure_mode then claims.failure_mode end as failure_mode,
        case when $by_model then units.model end as model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_column_1 then kept.column_1 end as column_1,
        case when $by_column_2 then kept.column_2 end as column_2,
        case when $by_column_3 then kept.column_3 end as column_3,
        case
            when $by_supplier
                then coalesce(carriers.supplier, replaced.supplier, 'unknown')
        end as supplier,
        claims.finding
    from int_claims as claims
    inner join int_units as units  -- a claim of no known unit has no group
        on claims.serial_key = units.serial_key
    left join int_carriers as carriers
        on
            $by_supplier
            and claims.serial_key = carriers.serial_key
            and claims.component = carriers.component
    left join int_part_suppliers as replaced
        on
            $by_supplier
            and claims.serial_key = replaced.serial_key
            and claims.component = replaced.component
    left join int_unit_columns as kept
        on $by_column_1 and claims.serial_key = kept.serial_key
    where
        claims.is_wanted
        and claims.claim_class not in ('cancelled', 'denied')
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or claims.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
),

final as (
    select
        claims.component,
        claims.failure_mode,
        claims.model,
        claims.model_year,
        claims.region,
        claims.generation,
        claims.build_month,
        claims.column_1,
        claims.column_2,
        claims.column_3,
        claims.supplier,
        count(claims.finding) as n_inspected,
        count(*) filter (where claims.finding = 'no fault found')
            as n_no_fault_found
    from claims_grouped as claims
    group by
        claims.component,
        claims.failure_mode,
        claims.model,
        claims.model_year,
        claims.region,
        claims.generation,
        claims.build_month,
        claims.column_1,
        claims.column_2,
        claims.column_3,
        claims.supplier
)

select * from final
order by
    component, failure_mode, model, model_year, region, generation, build_month,
    column_1, column_2, column_3, supplier;
