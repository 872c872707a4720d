-- What a person must look at at once, as the warehouse stands now, whatever the
-- cut-off of a report: a danger does not wait for the end of the month.
-- A further kind of alarm is one more branch of the union in final, with a kind and
-- a subject that name it for good.
-- grain:  one row per kind and subject
-- reads:  classifications, claims_current,
--         rising_alarms (subject, raised_on, component, words_read),
--         arrival_alarms (subject)
create or replace temp table int_alarms as
with dangerous_claims as (
    select
        'dangerous claim' as kind,
        classified.claim_no as subject,
        claims.reported_on as raised_on,
        coalesce(claims.serial, '') as serial,
        classified.component,
        split_part(classified.evidence, '; danger: ', 2) as words_read
    from classifications as classified
    inner join claims_current as claims  -- one row a claim
        on classified.claim_no = claims.claim_no
    where classified.safety = 'yes'
),

final as (
    select
        dangerous_claims.kind,
        dangerous_claims.subject,
        dangerous_claims.raised_on,
        dangerous_claims.serial,
        dangerous_claims.component,
        dangerous_claims.words_read
    from dangerous_claims
    union all
    select
        'rising fault' as kind,
        rising.subject,
        rising.raised_on,
        '' as serial,
        rising.component,
        rising.words_read
    from rising_alarms as rising
    union all
    select
        'arrival' as kind,
        arrived.subject,
        cast(null as date) as raised_on,
        '' as serial,
        '' as component,
        '' as words_read
    from arrival_alarms as arrived
)

select * from final;
