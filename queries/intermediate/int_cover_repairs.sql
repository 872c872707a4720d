-- Repairs that could prolong a cover, with what the settings say they do: 'restart'
-- (a replaced part has its own cover), 'after' (the cover lasts at least so long
-- after a repair) or 'days' (it lasts longer by the days in repair, from report to
-- end). A repair ends when its claim is closed, else decided, else reported; one
-- that is open, or closed after the cut-off, has not ended.
-- grain:  one row per claim, effect and rule; component '' is the whole unit
-- reads:  int_claim_facts, repair_extensions (component, model, model_year, region,
--         from_date, to_date, after_repair_months, whole_unit)
-- params: as_of (date)
create or replace temp table int_cover_repairs as
with repairs as (
    select
        facts.claim_no,
        facts.serial_key,
        facts.component,
        facts.failed_on,
        facts.reported_on,
        facts.distance_km,
        facts.restart,
        facts.restart_months,
        facts.names_part,
        facts.model,
        facts.model_year,
        facts.region,
        facts.likely_in_service_date,
        case
            when facts.closed_on <= $as_of
                then greatest(facts.closed_on, facts.reported_on)
            when facts.closed_on > $as_of or facts.status = 'open' then null
            when facts.decided_on <= $as_of
                then greatest(facts.decided_on, facts.reported_on)
            when facts.decided_on > $as_of then null
            else facts.reported_on
        end as repaired_on
    from int_claim_facts as facts
    where
        facts.unusable_class is null
        and not facts.is_goodwill
        and coalesce(facts.finding, '')
        not in ('misuse', 'transport damage', 'no fault found')
        and facts.failure_mode
        not in ('misuse', 'transport damage', 'no fault found')
),

final as (
    select
        repairs.claim_no,
        'restart' as effect,
        repairs.serial_key,
        repairs.component,
        repairs.failed_on,
        repairs.reported_on,
        repairs.repaired_on,
        cast(
            repairs.repaired_on + to_months(repairs.restart_months) as date
        ) as ends_on,
        repairs.distance_km
    from repairs
    where
        repairs.repaired_on is not null
        and (
            repairs.restart = 'repair'
            or (repairs.restart = 'part' and repairs.names_part)
        )
    union all
    select
        repairs.claim_no,
        case
            when rules.after_repair_months is null then 'days' else 'after'
        end as effect,
        repairs.serial_key,
        case when rules.whole_unit then '' else repairs.component end as component,
        repairs.failed_on,
        repairs.reported_on,
        repairs.repaired_on,
        cast(
            repairs.repaired_on + to_months(rules.after_repair_months) as date
        ) as ends_on,
        repairs.distance_km
    from repairs
    inner join repair_extensions as rules  -- only repairs that a rule speaks of
        on
            coalesce(rules.component, repairs.component) = repairs.component
            and coalesce(rules.model, coalesce(repairs.model, ''))
            = coalesce(repairs.model, '')
            and coalesce(rules.model_year, coalesce(repairs.model_year, 0))
            = coalesce(repairs.model_year, 0)
            and coalesce(rules.region, repairs.region) = repairs.region
            and repairs.likely_in_service_date
            between rules.from_date and rules.to_date
    where repairs.repaired_on is not null
)

select * from final;
create or replace temp table int_cover_repairs_in_force as
select
    repairs.claim_no,
    repairs.effect,
    repairs.serial_key,
    repairs.component,
    repairs.failed_on,
    repairs.reported_on,
    repairs.repaired_on,
    repairs.ends_on,
    repairs.distance_km
from int_cover_repairs as repairs
where false;
