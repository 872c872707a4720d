-- The values of the units that a filter can ask for.
-- grain:  one row per filter and value
-- reads:  int_units
with final as (
    select
        'model' as column_name,
        int_units.model as value
    from int_units
    union
    select
        'model_year' as column_name,
        cast(int_units.model_year as varchar) as value
    from int_units
    union
    select
        'region' as column_name,
        int_units.region as value
    from int_units
)

select * from final
order by column_name, value;
