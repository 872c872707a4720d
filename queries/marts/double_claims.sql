-- Pairs of claims of one unit that may be one claim under two numbers: the same
-- component failed within days, or the same part was sent twice.
-- grain:  one row per pair of claims
-- reads:  int_claims, claim_parts_known
-- params: fault_days, part_days (integer)
with paid as (
    select
        claims.claim_no,
        claims.serial_key,
        claims.serial,
        claims.dealer,
        claims.component,
        claims.failed_on,
        claims.cost,
        claims.currency
    from int_claims as claims
    where
        claims.is_wanted
        and claims.serial_key is not null
        and claims.claim_class not in ('cancelled', 'denied')
),

parts_sent as (
    select distinct
        parts.claim_no,
        upper(parts.part_no) as part_key
    from claim_parts_known as parts
),

same_parts as (
    select
        one.claim_no,
        other.claim_no as other_claim_no,
        min(one_part.part_key) as part_no
    from paid as one
    inner join paid as other
        on
            one.serial_key = other.serial_key
            and one.claim_no < other.claim_no
            and abs(date_diff('day', one.failed_on, other.failed_on)) <= $part_days
    inner join parts_sent as one_part
        on one.claim_no = one_part.claim_no
    inner join parts_sent as other_part
        on
            other.claim_no = other_part.claim_no
            and one_part.part_key = other_part.part_key
    group by one.claim_no, other.claim_no
),

same_faults as (
    select
        one.claim_no,
        other.claim_no as other_claim_no
    from paid as one
    inner join paid as other
        on
            one.serial_key = other.serial_key
            and one.component = other.component
            and one.claim_no < other.claim_no
            and abs(date_diff('day', one.failed_on, other.failed_on)) <= $fault_days
    where one.component <> 'unclassified'
),

pairs as (
    select
        same_faults.claim_no,
        same_faults.other_claim_no
    from same_faults
    union
    select
        same_parts.claim_no,
        same_parts.other_claim_no
    from same_parts
),

final as (
    select
        one.serial,
        coalesce(other.dealer, one.dealer, '') as dealer,
        one.component,
        pairs.claim_no,
        pairs.other_claim_no,
        abs(date_diff('day', one.failed_on, other.failed_on)) as days_apart,
        same_parts.part_no,
        other.cost,
        other.currency
    from pairs
    inner join paid as one  -- both claims are paid ones
        on pairs.claim_no = one.claim_no
    inner join paid as other
        on pairs.other_claim_no = other.claim_no
    left join same_parts
        on
            pairs.claim_no = same_parts.claim_no
            and pairs.other_claim_no = same_parts.other_claim_no
)

select * from final
order by claim_no, other_claim_no;
