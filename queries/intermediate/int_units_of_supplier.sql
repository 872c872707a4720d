-- Leave only the units that first carried one supplier's part of a component.
-- grain:  one row per unit
-- reads:  int_units, int_carriers
-- params: component (varchar), suppliers (varchar[]; spellings of one name)
delete from int_units
where
    int_units.serial_key not in (
        select carriers.serial_key
        from int_carriers as carriers
        where
            carriers.component = $component
            and list_contains($suppliers, carriers.supplier)
    );
