-- Every claim known at the cut-off, with what tells whether it is worth a person's
-- time: danger, cost, how sure its class is, and who has reviewed it.
-- grain:  one row per claim
-- reads:  claims_known, classified_known, labels_known
-- params: as_of (date)
with reviewers_counted as (
    select
        labels.claim_no,
        count(distinct coalesce(labels.reviewer, '')) as n_reviewers
    from labels_known as labels
    group by labels.claim_no
),

final as (
    select
        claims.claim_no,
        claims.reported_on,
        coalesce(claims.status, 'open') = 'open' as is_open,
        coalesce(
            claims.cost_total,
            case
                when
                    coalesce(
                        claims.cost_parts, claims.cost_labour, claims.cost_freight
                    ) is not null
                    then
                        coalesce(claims.cost_parts, 0)
                        + coalesce(claims.cost_labour, 0)
                        + coalesce(claims.cost_freight, 0)
            end,
            claims.amount_approved
        )::double as cost,
        coalesce(claims.currency, '') as currency,
        coalesce(
            claims.narrative, claims.technician_note, claims.resolution
        ) is not null as has_text,
        classified.component,
        classified.failure_mode,
        classified.source,
        classified.confidence,
        classified.safety,
        classified.evidence,
        coalesce(reviewers_counted.n_reviewers, 0) as n_reviewers
    from claims_known as claims
    inner join classified_known as classified  -- every known claim has a class
        on claims.claim_no = classified.claim_no
    left join reviewers_counted
        on claims.claim_no = reviewers_counted.claim_no
    where
        claims.reported_on <= $as_of
        and coalesce(claims.failed_on, claims.reported_on) <= $as_of
)

select * from final
order by claim_no;
