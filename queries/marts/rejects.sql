-- Rejected rows in file order.
-- grain:  one row per rejected row
-- reads:  rejects
with final as (
    select
        rejects.file,
        rejects.row,
        rejects.column_name,
        rejects.value,
        rejects.reason
    from rejects
)

select * from final
order by file, row, column_name, reason;
