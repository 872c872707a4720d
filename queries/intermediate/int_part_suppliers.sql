-- Who supplied the part that was replaced first, where no register of fitted parts
-- says it; or what another column says of it. A part of the claim's own component
-- speaks before its other parts.
-- grain:  one row per unit and component
-- reads:  int_claims, int_replaced, parts_known, component_words (text, component)
-- params: part_column (varchar; supplier, part_no, or a kept column of the parts)
create or replace temp table int_part_suppliers as
with parts_described as (
    select
        upper(parts.part_no) as part_key,
        any_value(try_cast(parts.extra as map (varchar, varchar))[$part_column])
            as described
    from parts_known as parts
    group by upper(parts.part_no)
),

parts_replaced as (
    select
        replaced.claim_no,
        replaced.component,
        case $part_column
            when 'supplier' then replaced.supplier
            when 'part_no' then replaced.part_no
            else parts_described.described
        end as supplier
    from int_replaced as replaced
    left join parts_described
        on upper(replaced.part_no) = parts_described.part_key
),

suppliers_ranked as (
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
    inner join parts_replaced as replaced  -- only claims that name a part
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
