-- Whether each claim lies inside the cover of its component: that of the unit, longer
-- by what extensions and earlier repairs add, or that of a part replaced before.
-- Neither date nor distance may be beyond its limit; a distance that nobody read
-- speaks for nothing. A claim without any in-service date is taken as covered.
-- grain:  one row per claim
-- reads:  int_claim_facts, int_prolonged, int_cover_repairs_in_force
-- params: late_report_days (integer)
create or replace temp table int_claims_covered as
with ends as (
    select
        facts.claim_no,
        facts.serial_key,
        facts.component,
        facts.failed_on,
        facts.reported_on,
        facts.distance_km,
        facts.limit_km,
        facts.is_never_covered,
        greatest(
            facts.base_cover_end + cast(
                coalesce(of_unit.more_days, 0) + coalesce(of_component.more_days, 0)
                as integer
            ),
            coalesce(of_unit.ends_on, facts.base_cover_end),
            coalesce(of_component.ends_on, facts.base_cover_end)
        ) as cover_end
    from int_claim_facts as facts
    left join int_prolonged as of_unit
        on facts.serial_key = of_unit.serial_key and of_unit.component = ''
    left join int_prolonged as of_component
        on
            facts.serial_key = of_component.serial_key
            and facts.component = of_component.component
),

-- the cover of a part fitted by an earlier repair, which has its own distance
of_replaced_parts as (
    select
        ends.claim_no,
        max(repairs.ends_on) as cover_end
    from ends
    inner join int_cover_repairs_in_force as repairs  -- a repair of the same component
        on
            ends.serial_key = repairs.serial_key
            and ends.component = repairs.component
    where
        repairs.effect = 'restart'
        and repairs.failed_on < ends.failed_on
        and ends.failed_on <= repairs.ends_on
        and ends.reported_on
        <= repairs.ends_on + cast($late_report_days as integer)
        and coalesce(
            ends.distance_km - repairs.distance_km <= ends.limit_km, true
        )
    group by ends.claim_no
),

final as (
    select
        ends.claim_no,
        coalesce(of_replaced_parts.cover_end, ends.cover_end) as cover_end,
        not ends.is_never_covered
        and (
            of_replaced_parts.claim_no is not null
            or coalesce(
                ends.failed_on <= ends.cover_end
                and ends.reported_on
                <= ends.cover_end + cast($late_report_days as integer)
                and coalesce(ends.distance_km <= ends.limit_km, true),
                true
            )
        ) as is_covered
    from ends
    left join of_replaced_parts
        on ends.claim_no = of_replaced_parts.claim_no
)

select * from final;
