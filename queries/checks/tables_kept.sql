-- The tables that a warehouse file holds, its views left out.
-- grain:  one row per table
-- reads:  information_schema.tables
with final as (
    select tables.table_name
    from information_schema.tables as tables
    where tables.table_type = 'BASE TABLE' and tables.table_catalog <> 'temp'
)

select * from final
order by table_name;
