-- What a reviewer reads of the claims asked: model, cost and texts.
-- grain:  one row per claim asked that is in the warehouse
-- reads:  claims_known, units_known, review_asked (claim_no)
with models as (
    select
        upper(units.serial) as serial_key,
        any_value(units.model) as model
    from units_known as units
    group by upper(units.serial)
),

final as (
    select
        claims.claim_no,
        claims.reported_on,
        coalesce(models.model, claims.model) as model,
        coalesce(
            claims.cost_total,
            case
                when
                    coalesce(
                        claims.cost_parts, claims.cost_labour, claims.cost_freight
                    ) is not null
                    then
                        coalesce(claims.cost_parts, 0)
                        + coalesce(claims.cost_labour, 0)
                        + coalesce(claims.cost_freight, 0)
            end,
            claims.amount_approved
        )::double as cost,
        coalesce(claims.currency, '') as currency,
        claims.narrative,
        claims.technician_note,
        claims.resolution
    from claims_known as claims
    inner join review_asked  -- only those
        on claims.claim_no = review_asked.claim_no
    left join models
        on upper(claims.serial) = models.serial_key
)

select * from final
order by claim_no;
