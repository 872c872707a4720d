-- Flags and rejects by reason.
-- grain:  one row per list (flag or reject) and reason
-- reads:  flags, rejects
with listed as (
    select
        'flag' as list,
        flags.reason
    from flags
    union all
    select
        'reject' as list,
        rejects.reason
    from rejects
),

final as (
    select
        listed.list,
        listed.reason,
        count(*) as n_rows
    from listed
    group by listed.list, listed.reason
)

select * from final
order by list, n_rows desc, reason;
