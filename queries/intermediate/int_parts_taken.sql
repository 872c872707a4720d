-- The claims that tell which parts they took, and those parts under the numbers that
-- are sent for them today. A claim that is still open and young tells nothing yet.
-- A claim may name its main part in its own row and again among its lines: what the
-- lines hold is not added again. A number without a quantity is one piece; a kit with
-- a number of its own is one kit.
-- grain:  int_claims_told: one row per claim;
--         int_parts_taken: one row per claim and part sent today
-- reads:  int_claims, int_units, claims_known, claim_parts_known,
--         parts_sent (part_key, sent_key)
-- params: after (date; reported after it), open_after (date; an open claim reported
--         after it tells nothing), returned_to_stock (boolean; parts of claims found
--         without fault are)
create or replace temp table int_claims_told as
with final as (
    select
        claims.claim_no,
        claims.component,
        coalesce(units.model, claims.model) as model,
        coalesce(units.model_year, claims.model_year) as model_year,
        units.generation,
        claims.claim_class = 'no fault found' as is_no_fault
    from int_claims as claims
    left join int_units as units
        on claims.serial_key = units.serial_key
    where
        claims.is_wanted
        and claims.claim_class in (
            'counted', 'no fault found', 'unknown serial', 'no serial',
            'no in-service date', 'before delivery', 'reported before failed',
            'date not yet known'
        )
        and claims.reported_on > $after
        and not (
            coalesce(claims.status, '') = 'open' and claims.reported_on > $open_after
        )
)

select * from final;

create or replace temp table int_parts_taken as
with lines as (
    select
        claim_parts.claim_no,
        coalesce(sent.sent_key, upper(claim_parts.part_no)) as part_key,
        sum(coalesce(claim_parts.quantity, 1)) as quantity
    from claim_parts_known as claim_parts
    left join parts_sent as sent
        on upper(claim_parts.part_no) = sent.part_key
    where claim_parts.part_no is not null
    group by
        claim_parts.claim_no, coalesce(sent.sent_key, upper(claim_parts.part_no))
),

mains as (
    select
        claims.claim_no,
        coalesce(sent.sent_key, upper(claims.part_no)) as part_key,
        coalesce(claims.quantity, 1) as quantity
    from claims_known as claims
    left join parts_sent as sent
        on upper(claims.part_no) = sent.part_key
    where claims.part_no is not null
),

named as (
    select
        coalesce(lines.claim_no, mains.claim_no) as claim_no,
        coalesce(lines.part_key, mains.part_key) as part_key,
        coalesce(lines.quantity, mains.quantity) as quantity
    from lines
    full outer join mains
        on lines.claim_no = mains.claim_no and lines.part_key = mains.part_key
),

final as (
    select
        named.claim_no,
        named.part_key,
        cast(named.quantity as double) as quantity
    from named
    inner join int_claims_told as told  -- claims that tell nothing take nothing
        on named.claim_no = told.claim_no
    where
        named.quantity > 0
        and not ($returned_to_stock and told.is_no_fault)
)

select * from final;
