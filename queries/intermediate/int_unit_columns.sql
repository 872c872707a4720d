-- Values of up to three columns of the register that have no group of their own. They
-- are dealer, lot and works, or a column of the export that was kept as it came.
-- grain:  one row per unit
-- reads:  units_known
-- params: column_1, column_2, column_3 (varchar; the empty text for none)
create or replace temp table int_unit_columns as
with kept as (
    select
        upper(units.serial) as serial_key,
        units.dealer,
        units.build_lot,
        units.plant,
        try_cast(units.extra as map (varchar, varchar)) as extra
    from units_known as units
)

select
    kept.serial_key,
    case $column_1
        when '' then null
        when 'dealer' then kept.dealer
        when 'build_lot' then kept.build_lot
        when 'plant' then kept.plant
        else kept.extra[$column_1]
    end as column_1,
    case $column_2
        when '' then null
        when 'dealer' then kept.dealer
        when 'build_lot' then kept.build_lot
        when 'plant' then kept.plant
        else kept.extra[$column_2]
    end as column_2,
    case $column_3
        when '' then null
        when 'dealer' then kept.dealer
        when 'build_lot' then kept.build_lot
        when 'plant' then kept.plant
        else kept.extra[$column_3]
    end as column_3
from kept;
