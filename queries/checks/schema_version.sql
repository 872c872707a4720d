-- The version of the tables of a warehouse.
-- grain:  one row
-- reads:  meta
with final as (
    select cast(meta.value as integer) as schema_version
    from meta
    where meta.key = 'schema_version'
)

select * from final;
