-- Words of short lists that nothing translates: status, finding, goodwill, currency.
-- grain:  one row per batch, column and word
-- reads:  claims_versions, claim_parts_versions, parts_versions, rejected_rows
with issued as (
    select
        claims.batch,
        unnest(claims.issues) as issue
    from claims_versions as claims
    union all
    select
        claim_parts.batch,
        unnest(claim_parts.issues) as issue
    from claim_parts_versions as claim_parts
    union all
    select
        parts.batch,
        unnest(parts.issues) as issue
    from parts_versions as parts
),

told as (
    select
        issued.batch,
        issued.issue.column_name,
        issued.issue.value as word
    from issued
    union all
    select
        rejected_rows.batch,
        rejected_rows.column_name,
        rejected_rows.value as word
    from rejected_rows
),

final as (
    select
        told.batch,
        told.column_name,
        told.word,
        count(*) as n_rows
    from told
    where
        told.column_name in ('status', 'finding', 'goodwill', 'currency')
        and told.word is not null
    group by told.batch, told.column_name, told.word
)

select * from final
order by batch, column_name, n_rows desc, word;
