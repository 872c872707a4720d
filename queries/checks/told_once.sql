-- An alarm is told once, and a claim stands once in a sample for review.
-- grain:  one row
-- reads:  alarms_told, review_samples
with kept as (
    select
        'alarm' as what,
        concat_ws(' ', alarms_told.kind, alarms_told.subject) as name
    from alarms_told
    union all
    select
        'review',
        concat_ws(' ', review_samples.sample, review_samples.claim_no)
    from review_samples
),

broken as (
    select concat_ws(' ', kept.what, kept.name) as name
    from kept
    group by kept.what, kept.name
    having count(*) > 1
),

final as (
    select
        'an alarm is told once; a claim stands once in a review'
            as meaning,
        'different entries v. entries' as compared,
        cast((select count(*) from (select distinct kept.* from kept) as once) as double) as found,
        cast((select count(*) from kept) as double) as expected,
        (select count(*) from broken) as n_broken,
        (
            select list(firsts.name order by firsts.name)
            from (
                select distinct broken.name
                from broken
                order by broken.name
                limit 5
            ) as firsts
        ) as broken_keys
)

select * from final;
