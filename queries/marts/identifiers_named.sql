-- Which of the identifiers that somebody named stand in the warehouse; a claim number
-- in other case is found as well.
-- grain:  one row per identifier named and found
-- reads:  identifiers, named (kind, plain)
with final as (
    select
        named.kind,
        named.plain as given,
        identifiers.plain
    from named
    inner join identifiers  -- only what stands there
        on
            named.kind = identifiers.kind
            and upper(named.plain) = upper(identifiers.plain)
)

select * from final
order by kind, given, plain;
