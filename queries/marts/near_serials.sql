-- Serials of the register that look most like one that it does not hold.
-- grain:  one row per serial, the likest first, five at most
-- reads:  units_known
-- params: serial_key (varchar)
with compared as (
    select
        units.serial,
        jaro_winkler_similarity(upper(units.serial), $serial_key) as likeness
    from units_known as units
),

final as (
    select
        compared.serial,
        compared.likeness
    from compared
    where compared.likeness > 0.6
)

select * from final
order by likeness desc, serial
limit 5;
