-- Flags of claims and units.
-- grain:  one row per flag
-- reads:  flags
with final as (
    select
        flags.claim_no,
        flags.serial,
        flags.column_name,
        flags.value,
        flags.reason
    from flags
)

select * from final
order by claim_no, serial, column_name, reason;
