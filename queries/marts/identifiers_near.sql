-- Identifiers that look most like one that the warehouse does not hold.
-- grain:  one row per identifier, the likest first, five at most
-- reads:  identifiers
-- params: kind (varchar), plain (varchar)
with compared as (
    select
        identifiers.plain,
        jaro_winkler_similarity(upper(identifiers.plain), upper($plain)) as likeness
    from identifiers
    where identifiers.kind = $kind
),

final as (
    select
        compared.plain,
        compared.likeness
    from compared
    where compared.likeness > 0.6
)

select * from final
order by likeness desc, plain
limit 5;
