-- Claims by up to four columns, counted by the rates or not, with their cost.
-- grain:  one row per combination of values and currency
-- reads:  int_claims, claims_known, wanted (column_name, value)
-- params: column_1, column_2, column_3, column_4 (varchar; the empty text for none)
with sighted as (
    select
        claims.claim_no,
        claims.claim_class,
        claims.cost,
        claims.currency,
        cast(
            map {
                'model': coalesce(claims.model, versions.model),
                'model_year': cast(
                    coalesce(claims.model_year, versions.model_year) as varchar
                ),
                'component': claims.component,
                'failure_mode': claims.failure_mode,
                'region': claims.region,
                'generation': claims.generation,
                'build_month': cast(claims.build_month as varchar),
                'claim_class': claims.claim_class,
                'finding': claims.finding,
                'dealer': claims.dealer,
                'status': versions.status,
                'decision_reason': versions.decision_reason,
                'part_no': versions.part_no,
                'goodwill': versions.goodwill,
                'usage_unit': versions.usage_unit
            } as map (varchar, varchar)
        ) as named,
        try_cast(versions.extra as map (varchar, varchar)) as extra
    from int_claims as claims
    inner join claims_known as versions  -- every claim in sight is a known one
        on claims.claim_no = versions.claim_no
    where
        claims.is_wanted
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or claims.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
),

read as (
    select
        coalesce(sighted.named[$column_1], sighted.extra[$column_1]) as column_1,
        coalesce(sighted.named[$column_2], sighted.extra[$column_2]) as column_2,
        coalesce(sighted.named[$column_3], sighted.extra[$column_3]) as column_3,
        coalesce(sighted.named[$column_4], sighted.extra[$column_4]) as column_4,
        sighted.claim_class,
        sighted.cost,
        sighted.currency
    from sighted
),

final as (
    select
        read.column_1,
        read.column_2,
        read.column_3,
        read.column_4,
        count(*) as claims,
        count(*) filter (where read.claim_class = 'counted') as claims_counted,
        case when count(distinct read.currency) = 1 then sum(read.cost) end as cost,
        case when count(distinct read.currency) = 1 then any_value(read.currency) end
            as currency
    from read
    group by read.column_1, read.column_2, read.column_3, read.column_4
)

select * from final
order by claims desc, column_1, column_2, column_3, column_4;
