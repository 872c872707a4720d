-- Every claim known at the cut-off with its unit, its component and the one class
-- that says whether the rates count it.
-- grain:  one row per claim
-- reads:  int_claim_facts, int_claims_covered, int_service
-- params: recorded_from (date; the first day of all where every failure was recorded),
--         count_no_fault_found, count_misuse, count_transport_damage,
--         count_goodwill, count_outside_coverage (boolean)
create or replace temp table int_claims as
with claims_covered as (
    select
        facts.claim_no,
        facts.serial,
        facts.serial_key,
        facts.reported_on,
        facts.failed_on,
        facts.is_failure_date_assumed,
        facts.status,
        facts.is_goodwill,
        facts.known_on,
        facts.is_in_register,
        facts.is_wanted,
        facts.model,
        facts.model_year,
        facts.generation,
        facts.region,
        facts.dealer,
        facts.build_month,
        facts.in_service_date,
        facts.likely_in_service_date,
        facts.component,
        facts.failure_mode,
        facts.safety,
        facts.finding,
        facts.cost,
        facts.currency,
        facts.decided_on,
        facts.closed_on,
        facts.cover_class,
        facts.distance_km,
        facts.limit_km,
        facts.unusable_class,
        covered.cover_end,
        covered.is_covered
    from int_claim_facts as facts
    inner join int_claims_covered as covered  -- one row a claim
        on facts.claim_no = covered.claim_no
),

final as (
    select
        claims_covered.claim_no,
        claims_covered.serial,
        claims_covered.serial_key,
        claims_covered.reported_on,
        claims_covered.failed_on,
        claims_covered.is_failure_date_assumed,
        claims_covered.status,
        claims_covered.is_goodwill,
        claims_covered.known_on,
        claims_covered.is_in_register,
        claims_covered.is_wanted,
        claims_covered.model,
        claims_covered.model_year,
        claims_covered.generation,
        claims_covered.region,
        claims_covered.dealer,
        claims_covered.build_month,
        claims_covered.in_service_date,
        claims_covered.likely_in_service_date,
        claims_covered.component,
        claims_covered.failure_mode,
        claims_covered.safety,
        claims_covered.finding,
        claims_covered.cost,
        claims_covered.currency,
        claims_covered.decided_on,
        claims_covered.closed_on,
        -- a claim is open at the end of a day before this one
        case
            when coalesce(claims_covered.status, 'open') = 'cancelled'
                then date '0001-01-01'
            else
                coalesce(
                    claims_covered.closed_on,
                    claims_covered.decided_on,
                    case
                        when coalesce(claims_covered.status, 'open') = 'open'
                            then date '9999-12-31'
                        else claims_covered.reported_on
                    end
                )
        end as open_until,
        -- from this day on nobody waits for anything: an approved claim waits for its
        -- closing, where the export closes claims at all
        case
            when coalesce(claims_covered.status, 'open') = 'cancelled'
                then date '0001-01-01'
            when claims_covered.closed_on is not null then claims_covered.closed_on
            when coalesce(claims_covered.status, 'open') = 'open'
                then coalesce(claims_covered.decided_on, date '9999-12-31')
            when
                claims_covered.status = 'approved'
                and exists (
                    select 1
                    from claims_covered as closed
                    where closed.status = 'closed'
                )
                then date '9999-12-31'
            else coalesce(claims_covered.decided_on, claims_covered.reported_on)
        end as done_on,
        claims_covered.cover_class,
        claims_covered.distance_km,
        claims_covered.limit_km,
        claims_covered.cover_end,
        claims_covered.is_covered,
        case
            when claims_covered.unusable_class is not null
                then claims_covered.unusable_class
            when claims_covered.failed_on < $recorded_from then 'before recording'
            when not $count_outside_coverage and not claims_covered.is_covered
                then 'outside coverage'
            when not $count_goodwill and claims_covered.is_goodwill then 'goodwill'
            when
                not $count_misuse
                and (
                    claims_covered.finding = 'misuse'
                    or claims_covered.failure_mode = 'misuse'
                )
                then 'misuse'
            when
                not $count_transport_damage
                and (
                    claims_covered.finding = 'transport damage'
                    or claims_covered.failure_mode = 'transport damage'
                )
                then 'transport damage'
            when
                not $count_no_fault_found
                and (
                    claims_covered.finding = 'no fault found'
                    or claims_covered.failure_mode = 'no fault found'
                )
                then 'no fault found'
            -- no age: neither a date of its own nor one that the sales lag allows
            when
                claims_covered.serial_key not in (
                    select int_service.serial_key from int_service
                )
                then 'no in-service date'
            else 'counted'
        end as claim_class
    from claims_covered
)

select * from final;
