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
        case
            when rejects.reason like '% fields where the header has %'
                then 'another number of fields than the header'
            when rejects.reason like 'broken JSON%' then 'broken JSON'
            else rejects.reason
        end as reason
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
