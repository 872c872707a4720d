-- Claims that tell of a danger, whatever their class: those reported in the month,
-- those that an inspection of the month found dangerous, and older ones still open.
-- Only the words that told of it are shown, never the text around them.
-- grain:  one row per claim
-- reads:  int_claims, classified_known, findings_known
-- params: month_start (date), month_end (date)
with inspected_in_month as (
    select
        findings.claim_no,
        max(findings.inspected_on) as inspected_on
    from findings_known as findings
    where findings.inspected_on between $month_start and $month_end
    group by findings.claim_no
),

dangerous_claims as (
    select
        claims.claim_no,
        claims.serial,
        claims.component,
        claims.failure_mode,
        claims.reported_on,
        claims.done_on > $month_end as is_open,
        split_part(classified.evidence, '; danger: ', 2) as words_read,
        inspected.inspected_on
    from int_claims as claims
    inner join classified_known as classified  -- one row a claim
        on claims.claim_no = classified.claim_no
    left join inspected_in_month as inspected
        on claims.claim_no = inspected.claim_no
    where
        claims.safety = 'yes'
        and claims.is_wanted
        and claims.reported_on <= $month_end
),

claims_told_why as (
    select
        dangerous_claims.claim_no,
        dangerous_claims.serial,
        dangerous_claims.component,
        dangerous_claims.failure_mode,
        dangerous_claims.reported_on,
        dangerous_claims.words_read,
        case
            when dangerous_claims.reported_on >= $month_start then 'reported'
            when
                dangerous_claims.inspected_on is not null
                and dangerous_claims.words_read like 'finding: %'
                then 'inspected'
            when dangerous_claims.is_open then 'open'
        end as why,
        dangerous_claims.inspected_on
    from dangerous_claims
),

final as (
    select
        claims_told_why.claim_no,
        claims_told_why.serial,
        claims_told_why.component,
        claims_told_why.failure_mode,
        claims_told_why.reported_on,
        claims_told_why.words_read,
        claims_told_why.why,
        case
            when claims_told_why.why = 'inspected' then claims_told_why.inspected_on
            else claims_told_why.reported_on
        end as told_on
    from claims_told_why
    where claims_told_why.why is not null
)

select * from final
order by told_on desc, claim_no;
