-- The claims drawn for one second review.
-- grain:  one row per claim drawn
-- reads:  review_repeats
-- params: sample (text)
with final as (
    select
        repeats.sample,
        repeats.place,
        repeats.claim_no,
        repeats.as_of,
        repeats.repeat_size
    from review_repeats as repeats
    where repeats.sample = $sample
)

select * from final
order by place;
