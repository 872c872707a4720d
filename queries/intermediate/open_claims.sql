-- Claims just read in which the terms left component or failure mode open.
-- grain:  one row per claim
-- reads:  fresh_classifications
-- params: batch_size (integer)
with final as (
    select
        fresh.claim_no,
        (row_number() over (order by fresh.claim_no) - 1) // $batch_size as batch
    from fresh_classifications as fresh
    where
        fresh.source <> 'label'
        and (
            fresh.component = 'unclassified' or fresh.failure_mode = 'unclassified'
        )
)

select * from final
order by claim_no;
