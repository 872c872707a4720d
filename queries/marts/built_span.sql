-- The first and the last day on which units were built.
-- grain:  one row
-- reads:  int_built
with final as (
    select
        min(built.built_on) as first_on,
        max(built.built_on) as last_on
    from int_built as built
)

select * from final;
