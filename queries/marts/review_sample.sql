-- The claims of one sample, as they were drawn.
-- grain:  one row per claim of the sample
-- reads:  review_samples
-- params: sample (text)
with final as (
    select
        samples.sample,
        samples.place,
        samples.claim_no,
        samples.stratum,
        samples.probability,
        samples.reason,
        samples.component,
        samples.failure_mode,
        samples.source,
        samples.confidence,
        samples.safety,
        samples.evidence,
        samples.terms_digest,
        samples.as_of,
        samples.queue_size,
        samples.audit_size
    from review_samples as samples
    where samples.sample = $sample
)

select * from final
order by place;
