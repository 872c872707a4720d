-- Every claim known at the cut-off with its unit, its component and the one class
-- that says whether the rates count it.
-- grain:  one row per claim
-- reads:  claims_known, findings_known, int_units, int_service, int_cover,
--         classified_known, cover_classes (cover_class), typical_lag (days)
-- params: as_of (date), late_report_days (integer), tolerance_days (integer),
--         count_no_fault_found, count_misuse, count_transport_damage,
--         count_goodwill, count_outside_coverage (boolean)
create or replace temp table int_claims as
with findings_ranked as (
    select
        findings.claim_no,
        coalesce(findings.part_no, '') as part_no,
        findings.finding,
        coalesce(findings.inspected_on, date '0001-01-01') as inspected_on,
        case findings.finding
            when 'confirmed fault' then 1
            when 'misuse' then 2
            when 'transport damage' then 3
            when 'other' then 4
            else 5
        end as strength
    from findings_known as findings
    where coalesce(findings.inspected_on, date '0001-01-01') <= $as_of
),

-- a part's last inspection stands
part_findings as (
    select
        findings_ranked.claim_no,
        findings_ranked.finding,
        findings_ranked.strength,
        row_number() over (
            partition by findings_ranked.claim_no, findings_ranked.part_no
            order by findings_ranked.inspected_on desc, findings_ranked.strength
        ) as preference
    from findings_ranked
),

-- one faulty part makes a fault, however many others were sound
latest_findings as (
    select
        part_findings.claim_no,
        arg_min(part_findings.finding, part_findings.strength) as finding
    from part_findings
    where part_findings.preference = 1
    group by part_findings.claim_no
),

claims_joined as (
    select
        claims.claim_no,
        claims.serial,
        upper(claims.serial) as serial_key,
        claims.reported_on,
        coalesce(claims.failed_on, claims.reported_on) as failed_on,
        claims.failed_on is null as is_failure_date_assumed,
        claims.status,
        coalesce(claims.goodwill, 'no') = 'yes' as is_goodwill,
        claims.known_on,
        units.serial_key is not null as is_in_register,
        coalesce(
            units.is_wanted, not exists (select 1 from wanted)
        ) as is_wanted,
        units.model,
        units.model_year,
        units.generation,
        coalesce(units.region, claims.region, '') as region,
        coalesce(claims.dealer, units.dealer) as dealer,
        date_trunc('month', units.build_date) as build_month,
        coalesce(units.in_service_date, units.claimed_in_service_date)
            as in_service_date,
        coalesce(
            units.in_service_date,
            units.claimed_in_service_date,
            units.left_works_on + cast(typical_lag.days as integer),
            claims.in_service_date
        ) as likely_in_service_date,
        coalesce(classified.component, 'unclassified') as component,
        coalesce(classified.failure_mode, 'unclassified') as failure_mode,
        coalesce(classified.safety, 'no') as safety,
        latest_findings.finding,
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
        ) as cost,
        claims.currency,
        claims.decided_on,
        claims.closed_on
    from claims_known as claims
    left join int_units as units
        on upper(claims.serial) = units.serial_key
    left join classified_known as classified
        on claims.claim_no = classified.claim_no
    left join latest_findings
        on claims.claim_no = latest_findings.claim_no
    cross join typical_lag
    where
        claims.reported_on <= $as_of
        and coalesce(claims.failed_on, claims.reported_on) <= $as_of
),

claims_covered as (
    select
        claims_joined.*,
        coalesce(cover_classes.cover_class, '') as cover_class,
        coalesce(cover.months, 1) = 0 as is_never_covered,
        cast(
            claims_joined.likely_in_service_date + to_months(cover.months) as date
        ) as cover_end
    from claims_joined
    left join cover_classes
        on claims_joined.component = cover_classes.cover_class
    left join int_cover as cover
        on
            coalesce(claims_joined.model, '') = cover.model
            and claims_joined.region = cover.region
            and coalesce(cover_classes.cover_class, '') = cover.cover_class
),

final as (
    select
        claims_covered.*,
        case
            when claims_covered.status = 'cancelled' then 'cancelled'
            when claims_covered.status = 'denied' then 'denied'
            when claims_covered.serial is null then 'no serial'
            when not claims_covered.is_in_register then 'unknown serial'
            when claims_covered.reported_on < claims_covered.failed_on
                then 'reported before failed'
            when
                claims_covered.known_on > date '0001-01-01'
                and greatest(claims_covered.reported_on, claims_covered.failed_on)
                > claims_covered.known_on
                then 'date not yet known'
            when
                claims_covered.failed_on
                < claims_covered.in_service_date - cast($tolerance_days as integer)
                then 'before delivery'
            when
                not $count_outside_coverage
                and (
                    claims_covered.is_never_covered
                    or claims_covered.failed_on > claims_covered.cover_end
                    or claims_covered.reported_on
                    > claims_covered.cover_end + cast($late_report_days as integer)
                )
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
