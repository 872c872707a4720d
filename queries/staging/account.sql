-- What became of the rows of one file.
-- grain:  one row
-- reads:  staged, kept, folded, known_rows (the current table of the kind)
with judged as (
    select
        case
            when folded.row_key is null then 'unchanged'
            when known_rows.row_key is null then 'inserted'
            when known_rows.folded_digest <> folded.folded_digest then 'updated'
            else 'unchanged'
        end as outcome
    from kept
    left join folded
        on kept.row_key = folded.row_key
    left join known_rows
        on kept.row_key = known_rows.row_key
),

outcomes as (
    select
        count(*) filter (where judged.outcome = 'inserted') as inserted,
        count(*) filter (where judged.outcome = 'updated') as updated,
        count(*) filter (where judged.outcome = 'unchanged') as unchanged,
        count(*) as kept
    from judged
),

rows_staged as (
    select
        count(*) as staged,
        count(*) filter (where staged.reject_reason is not null) as rejected
    from staged
),

final as (
    select
        outcomes.inserted,
        outcomes.updated,
        outcomes.unchanged,
        rows_staged.staged - rows_staged.rejected - outcomes.kept as superseded,
        rows_staged.rejected
    from outcomes
    cross join rows_staged
)

select * from final;
