-- Claims that somebody waits for at the cut-off, by what they wait for and since when.
-- decision: not decided by then. part: decided, not done with, no part noted yet.
-- repair: decided, not done with, a part noted. part back: closed in the last days
-- asked for with a part noted, and no part of it inspected yet. What was decided,
-- closed or inspected after the cut-off had not happened at it.
-- A vehicle is off the road where the export's own column says so; without one, where
-- the claim tells of a danger or of a vehicle without power.
-- grain:  one row per wait, age and currency
-- reads:  int_claims, claims_known, claim_parts_known, findings_known
-- params: as_of (date), returned_since (date), off_road_column (varchar; null for none)
with parts_noted as (
    select distinct parts.claim_no
    from claim_parts_known as parts
),

parts_inspected as (
    select distinct findings.claim_no
    from findings_known as findings
    where coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
),

claims_dated as (
    select
        claims.claim_no,
        claims.reported_on,
        claims.safety,
        claims.failure_mode,
        known.amount_requested,
        coalesce(known.currency, '') as currency,
        coalesce(claims.status, 'open') as status,
        lower(
            trim(
                coalesce(
                    try_cast(known.extra as map (varchar, varchar))[
                        $off_road_column
                    ],
                    ''
                )
            )
        ) as off_road_said,
        known.part_no is not null
        or claims.claim_no in (select parts_noted.claim_no from parts_noted)
            as has_part,
        claims.claim_no in (select parts_inspected.claim_no from parts_inspected)
            as is_inspected,
        coalesce(claims.decided_on <= $as_of, false) as is_decided,
        claims.closed_on,
        claims.done_on > $as_of as is_open
    from int_claims as claims
    inner join claims_known as known  -- every claim is a known one
        on claims.claim_no = known.claim_no
    where claims.is_wanted and claims.reported_on <= $as_of
),

claims_waiting as (
    select
        claims_dated.*,
        case
            when claims_dated.is_open and not claims_dated.is_decided
                then 'decision'
            when claims_dated.is_open and claims_dated.has_part then 'repair'
            when claims_dated.is_open then 'part'
            when
                claims_dated.status not in ('denied', 'cancelled')
                and claims_dated.closed_on between $returned_since and $as_of
                and claims_dated.has_part
                and not claims_dated.is_inspected
                then 'part back'
        end as waits_for
    from claims_dated
),

claims_aged as (
    select
        claims_waiting.waits_for,
        claims_waiting.currency,
        claims_waiting.amount_requested,
        cast(
            $as_of - case
                when claims_waiting.waits_for = 'part back'
                    then claims_waiting.closed_on
                else claims_waiting.reported_on
            end as integer
        ) as days,
        case
            when $off_road_column is not null
                then
                    claims_waiting.off_road_said not in (
                        '', 'no', 'n', 'nein', 'non', 'nee', 'false', 'falsch', 'faux',
                        'onwaar', 'falso', '0', '-'
                    )
            else
                claims_waiting.safety = 'yes'
                or claims_waiting.failure_mode = 'no power'
        end as is_off_road
    from claims_waiting
    where claims_waiting.waits_for is not null
),

final as (
    select
        claims_aged.waits_for,
        claims_aged.days,
        claims_aged.currency,
        count(*) as n_claims,
        count(*) filter (where claims_aged.is_off_road) as n_off_road,
        count(claims_aged.amount_requested) as n_requested,
        cast(sum(claims_aged.amount_requested) as double) as requested
    from claims_aged
    group by
        claims_aged.waits_for,
        claims_aged.days,
        claims_aged.currency
)

select * from final
order by waits_for, days, currency;
