-- Units shipped and claims found before or at delivery.
-- grain:  one row per model
-- reads:  int_units, int_claims, wanted (column_name, value)
-- params: as_of (date)
with shipped as (
    select
        units.model,
        sum(units.quantity)::bigint as n_shipped
    from int_units as units
    where
        coalesce(units.ship_date, units.in_service_date, units.build_date) <= $as_of
        and units.is_wanted
    group by units.model
),

early_claims as (
    select
        claims.model,
        count(distinct claims.serial_key) as n_units_claimed,
        count(*) as n_claims
    from int_claims as claims
    where
        claims.claim_class = 'before delivery'
        and claims.is_wanted
        and (
            not exists (select 1 from wanted where wanted.column_name = 'component')
            or claims.component in (
                select wanted.value
                from wanted
                where wanted.column_name = 'component'
            )
        )
    group by claims.model
),

final as (
    select
        shipped.model,
        shipped.n_shipped,
        coalesce(early_claims.n_units_claimed, 0) as n_units_claimed,
        coalesce(early_claims.n_claims, 0) as n_claims
    from shipped
    left join early_claims
        on shipped.model = early_claims.model
)

select * from final
order by model;
