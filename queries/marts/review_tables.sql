-- Whether claims have ever been drawn for review: an older warehouse has no table of
-- them until something is written to it again.
-- grain:  one row
-- reads:  information_schema.tables
with final as (
    select count(*) > 0 as is_there
    from information_schema.tables
    where information_schema.tables.table_name = 'review_samples'
)

select * from final;
