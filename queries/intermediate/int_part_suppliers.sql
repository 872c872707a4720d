-- Who supplied the part that was replaced first, where no register of fitted parts
-- says it. A part of the claim's own component speaks before its other parts.
-- grain:  one row per unit and component
-- reads:  int_claims, int_replaced, component_words (text, component)
create or replace temp table int_part_suppliers as
with suppliers_ranked as (
    select
        claims.serial_key,
        claims.component,
        replaced.supplier,
        row_number() over (
            partition by claims.serial_key, claims.component
            order by
                claims.failed_on,
                case when words.component = claims.component then 0 else 1 end,
                replaced.supplier
        ) as preference
    from int_claims as claims
    inner join int_replaced as replaced  -- only claims that name a part
        on claims.claim_no = replaced.claim_no
    left join component_words as words
        on replaced.component = words.text
    where claims.claim_class = 'counted' and replaced.supplier is not null
)

select
    ranked.serial_key,
    ranked.component,
    ranked.supplier
from suppliers_ranked as ranked
where ranked.preference = 1;
