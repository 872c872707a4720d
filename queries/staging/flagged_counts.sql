-- How many accepted rows of each file the warehouse finds implausible.
-- grain:  one row per file of this call
-- reads:  kept_keys, flags_by_kind
with final as (
    select
        kept_keys.account_no,
        count(distinct kept_keys.row_key) as n_flagged
    from kept_keys
    inner join flags_by_kind  -- only flagged keys
        on
            kept_keys.kind = flags_by_kind.kind
            and kept_keys.subject = flags_by_kind.subject
    group by kept_keys.account_no
)

select * from final
order by account_no;
