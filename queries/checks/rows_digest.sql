-- Number of rows of a table, and a digest of what they hold, whatever their order.
-- grain:  one row
-- reads:  digested_rows (any table)
with final as (
    select
        count(*) as n_rows,
        cast(
            coalesce(
                sum(
                    cast(
                        md5_number_lower(cast(to_json(digested_rows) as varchar))
                        as hugeint
                    )
                ),
                0
            ) as varchar
        ) as digest
    from digested_rows
)

select * from final;
