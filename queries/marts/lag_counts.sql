-- Claims inside the cover, by month of failure and months until their report.
-- Months are counted back from the cut-off: 0 is the one that ends with it. What an
-- inspection found plays no part: it comes later than the report, and leaving out
-- what is known of the older months only would make the last ones look worse.
-- grain:  one row per group asked for, month of failure, lag in months, failure date
--         assumed or not, wanted by the filters or not
-- reads:  int_claims, wanted, lag_months (month_no, from_date, to_date)
-- params: by_model, by_model_year, by_component, by_failure_mode, by_region,
--         by_generation, by_build_month (boolean)
with components_wanted as (
    select wanted.value as component
    from wanted
    where wanted.column_name = 'component'
),

claims_counted as (
    select
        claims.is_failure_date_assumed,
        claims.is_wanted
        and (
            not exists (select 1 from components_wanted)
            or claims.component in (
                select components_wanted.component from components_wanted
            )
        ) as is_wanted,
        failed.month_no as failed_no,
        failed.month_no - reported.month_no as lag,
        case when $by_model then claims.model end as model,
        case when $by_model_year then claims.model_year end as model_year,
        case when $by_component then claims.component end as component,
        case when $by_failure_mode then claims.failure_mode end as failure_mode,
        case when $by_region then claims.region end as region,
        case when $by_generation then claims.generation end as generation,
        case when $by_build_month then claims.build_month end as build_month
    from int_claims as claims
    inner join lag_months as failed  -- months long ago have no report to come
        on claims.failed_on between failed.from_date and failed.to_date
    inner join lag_months as reported  -- no later than the cut-off, no earlier than
        on claims.reported_on between reported.from_date and reported.to_date
    where
        claims.claim_class in (
            'counted', 'no fault found', 'misuse', 'transport damage'
        )
),

final as (
    select
        claims_counted.model,
        claims_counted.model_year,
        claims_counted.component,
        claims_counted.failure_mode,
        claims_counted.region,
        claims_counted.generation,
        claims_counted.build_month,
        claims_counted.failed_no,
        claims_counted.lag,
        claims_counted.is_failure_date_assumed,
        claims_counted.is_wanted,
        count(*) as n_claims
    from claims_counted
    group by
        claims_counted.model,
        claims_counted.model_year,
        claims_counted.component,
        claims_counted.failure_mode,
        claims_counted.region,
        claims_counted.generation,
        claims_counted.build_month,
        claims_counted.failed_no,
        claims_counted.lag,
        claims_counted.is_failure_date_assumed,
        claims_counted.is_wanted
)

select * from final
order by
    model, model_year, component, failure_mode, region, generation, build_month,
    failed_no, lag, is_failure_date_assumed, is_wanted;
