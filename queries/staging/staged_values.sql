-- Values of staged rows that could not be read.
-- grain:  one row per value
-- reads:  staged
with final as (
    select
        staged.source_row,
        staged.reject_value as value
    from staged
    where staged.reject_value is not null
    union all
    select
        staged.source_row,
        unnest(staged.issues).value as value
    from staged
    where len(staged.issues) > 0
)

select * from final
order by source_row, value;
