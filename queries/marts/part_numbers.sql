-- Every part number that claims name, as written.
-- grain:  one row per part number in capitals
-- reads:  claims_known, claim_parts_known
with named as (
    select claims.part_no
    from claims_known as claims
    where claims.part_no is not null
    union all
    select claim_parts.part_no
    from claim_parts_known as claim_parts
    where claim_parts.part_no is not null
),

final as (
    select
        upper(named.part_no) as part_key,
        min(named.part_no) as part_no
    from named
    group by upper(named.part_no)
)

select * from final
order by part_key;
