-- Every claim known at the cut-off with its unit, its component, the cover of that
-- component at that unit and the distance read, whether or not the rates count it.
-- A distance is believed where it is above nothing, at most 1,000 km for each day in
-- service, and neither below an earlier one of the same unit nor above a later one.
-- A failure after the cut-off, of a claim reported by then, is a slip of a date: the
-- day of the report stands for it, and its class says so.
-- grain:  one row per claim
-- reads:  claims_known, claim_parts_known, findings_known, int_units, int_cover,
--         classified_known, cover_classes (cover_class), typical_lag (days),
--         distance_units (word, km)
-- params: as_of (date), tolerance_days (integer)
create or replace temp table int_claim_facts as
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
        coalesce(units.serial_key, upper(claims.serial)) as serial_key,
        claims.reported_on,
        case
            when claims.failed_on <= $as_of then claims.failed_on
            else claims.reported_on
        end as failed_on,
        coalesce(claims.failed_on > $as_of, true) as is_failure_date_assumed,
        coalesce(claims.reported_on < claims.failed_on, false)
            as is_reported_before,
        claims.status,
        coalesce(claims.goodwill, 'no') = 'yes' as is_goodwill,
        claims.known_on,
        units.serial_key is not null as is_of_unit,
        coalesce(units.origin = 'register', false) as is_in_register,
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
        claims.closed_on,
        claims.part_no is not null
        or claims.claim_no in (select parts.claim_no from claim_parts_known as parts)
            as names_part,
        claims.usage as reading,
        claims.usage * distance_units.km as reading_km
    from claims_known as claims
    left join int_units as units
        on
            coalesce(
                upper(claims.serial), chr(31) || 'claim ' || claims.claim_no
            ) = units.serial_key
    left join classified_known as classified
        on claims.claim_no = classified.claim_no
    left join latest_findings
        on claims.claim_no = latest_findings.claim_no
    left join distance_units  -- the word '' is a reading without its unit
        on lower(trim(coalesce(claims.usage_unit, ''))) = distance_units.word
    cross join typical_lag
    where claims.reported_on <= $as_of
),

claims_with_cover as (
    select
        claims_joined.*,
        coalesce(cover_classes.cover_class, '') as cover_class,
        coalesce(cover.months, 1) = 0 as is_never_covered,
        cast(
            claims_joined.likely_in_service_date + to_months(cover.months) as date
        ) as base_cover_end,
        cover.distance_km as limit_km,
        cover.restart,
        cover.restart_months,
        case
            when claims_joined.status = 'cancelled' then 'cancelled'
            when claims_joined.status = 'denied' then 'denied'
            when claims_joined.serial is null and not claims_joined.is_of_unit
                then 'no serial'
            when not claims_joined.is_of_unit then 'unknown serial'
            when claims_joined.is_reported_before then 'reported before failed'
            when
                claims_joined.known_on > date '0001-01-01'
                and greatest(claims_joined.reported_on, claims_joined.failed_on)
                > claims_joined.known_on
                then 'date not yet known'
            when
                claims_joined.failed_on
                < claims_joined.in_service_date - cast($tolerance_days as integer)
                then 'before delivery'
        end as unusable_class
    from claims_joined
    left join cover_classes
        on claims_joined.component = cover_classes.cover_class
    left join int_cover as cover
        on
            coalesce(claims_joined.model, '') = cover.model
            and coalesce(claims_joined.model_year, 0) = cover.model_year
            and claims_joined.region = cover.region
            and coalesce(cover_classes.cover_class, '') = cover.cover_class
            and claims_joined.likely_in_service_date
            between cover.from_date and cover.to_date
),

readings_judged as (
    select
        claims_with_cover.*,
        case
            when claims_with_cover.reading is null then 'none'
            when claims_with_cover.reading_km is null then 'no distance'
            when claims_with_cover.reading_km <= 0 then 'not above 0'
            when
                claims_with_cover.reading_km
                > 1000 * greatest(
                    date_diff(
                        'day',
                        claims_with_cover.likely_in_service_date,
                        claims_with_cover.failed_on
                    ),
                    1
                )
                then 'too far'
            else 'believed'
        end as first_verdict,
        date_diff('day', date '2000-01-01', claims_with_cover.failed_on) as failed_day
    from claims_with_cover
),

readings_compared as (
    select
        readings_judged.*,
        max(
            case
                when readings_judged.first_verdict = 'believed'
                    then readings_judged.reading_km
            end
        ) over (
            partition by readings_judged.serial_key
            order by readings_judged.failed_day
            range between unbounded preceding and 1 preceding
        ) as most_before,
        min(
            case
                when readings_judged.first_verdict = 'believed'
                    then readings_judged.reading_km
            end
        ) over (
            partition by readings_judged.serial_key
            order by readings_judged.failed_day
            range between 1 following and unbounded following
        ) as least_after
    from readings_judged
),

readings_settled as (
    select
        readings_compared.*,
        case
            when
                readings_compared.first_verdict = 'believed'
                and readings_compared.serial is not null
                and (
                    readings_compared.reading_km < readings_compared.most_before
                    or readings_compared.reading_km > readings_compared.least_after
                )
                then 'falls with age'
            else readings_compared.first_verdict
        end as reading_verdict
    from readings_compared
),

final as (
    select
        settled.claim_no,
        settled.serial,
        settled.serial_key,
        settled.reported_on,
        settled.failed_on,
        settled.is_failure_date_assumed,
        settled.status,
        settled.is_goodwill,
        settled.known_on,
        settled.is_in_register,
        settled.is_wanted,
        settled.model,
        settled.model_year,
        settled.generation,
        settled.region,
        settled.dealer,
        settled.build_month,
        settled.in_service_date,
        settled.likely_in_service_date,
        settled.component,
        settled.failure_mode,
        settled.safety,
        settled.finding,
        settled.cost,
        settled.currency,
        settled.decided_on,
        settled.closed_on,
        settled.names_part,
        settled.cover_class,
        settled.is_never_covered,
        settled.base_cover_end,
        settled.limit_km,
        settled.restart,
        settled.restart_months,
        settled.unusable_class,
        settled.reading_verdict,
        case
            when settled.reading_verdict = 'believed' then settled.reading_km
        end as distance_km
    from readings_settled as settled
)

select * from final;
