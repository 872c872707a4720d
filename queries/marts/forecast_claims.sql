-- Claims under cover, whatever an inspection found, with the months that tell the age
-- of the unit and how late the report was. Claims that no day in service can be told
-- for are listed without one.
-- grain:  one row per group asked for, component, cohort, months of the first day in
--         service, of the failure and of the report
-- reads:  int_claims, int_watch (made to the end of the forecast), int_units,
--         int_cohorts, int_carriers, int_part_suppliers
-- params: by_model_year, by_region, by_generation, by_build_month, by_dealer,
--         by_failure_mode, by_supplier (boolean), tolerance_days (integer),
--         shipped_by (date; only claims of units that had left the works by then)
with claims_wanted as (
    select claims.*
    from int_claims as claims
    where
        claims.is_wanted
        and claims.claim_class in (
            'counted', 'no fault found', 'unknown serial', 'no serial',
            'no in-service date', 'before delivery', 'reported before failed',
            'date not yet known'
        )
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or claims.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
),

placed as (
    select
        claims_wanted.*,
        watch.in_service_date as started_on,
        -- one of the days on which the claim was under cover is the unit's
        cast(
            watch.weight
            / sum(watch.weight) over (partition by claims_wanted.claim_no)
            as decimal(24, 15)
        ) as weight
    from claims_wanted
    left join int_watch as watch
        on
            claims_wanted.claim_class in ('counted', 'no fault found')
            and claims_wanted.serial_key = watch.serial_key
            and claims_wanted.cover_class = watch.cover_class
            and watch.weight > 0
            and date_diff('day', watch.in_service_date, claims_wanted.failed_on)
            between -cast($tolerance_days as integer) and watch.planned_days
),

final as (
    select
        coalesce(units.model, placed.model) as model,
        case
            when $by_model_year then coalesce(units.model_year, placed.model_year)
        end as model_year,
        case when $by_region then placed.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_dealer then placed.dealer end as dealer,
        placed.component,
        case when $by_failure_mode then placed.failure_mode end as failure_mode,
        case
            when $by_supplier
                then coalesce(carriers.supplier, suppliers.supplier, 'unknown')
        end as supplier,
        coalesce(cohorts.cohort, 0) as cohort,
        date_trunc('month', placed.started_on) as service_month,
        date_trunc('month', placed.failed_on) as failed_month,
        date_trunc('month', placed.reported_on) as reported_month,
        cast(sum(coalesce(placed.weight, 1)) as double) as n_claims
    from placed
    left join int_units as units
        on placed.serial_key = units.serial_key
    left join int_cohorts as cohorts
        on
            placed.serial_key = cohorts.serial_key
            and placed.started_on = cohorts.in_service_date
    left join int_carriers as carriers
        on
            placed.serial_key = carriers.serial_key
            and placed.component = carriers.component
    left join int_part_suppliers as suppliers
        on
            placed.serial_key = suppliers.serial_key
            and placed.component = suppliers.component
    where coalesce(units.left_works_on <= $shipped_by, true)
    group by
        coalesce(units.model, placed.model),
        case
            when $by_model_year then coalesce(units.model_year, placed.model_year)
        end,
        case when $by_region then placed.region end,
        case when $by_generation then units.generation end,
        case when $by_build_month then date_trunc('month', units.build_date) end,
        case when $by_dealer then placed.dealer end,
        placed.component,
        case when $by_failure_mode then placed.failure_mode end,
        case
            when $by_supplier
                then coalesce(carriers.supplier, suppliers.supplier, 'unknown')
        end,
        coalesce(cohorts.cohort, 0),
        date_trunc('month', placed.started_on),
        date_trunc('month', placed.failed_on),
        date_trunc('month', placed.reported_on)
)

select * from final
order by
    model, model_year, region, generation, build_month, dealer, component,
    failure_mode, supplier, cohort, service_month, failed_month, reported_month;
