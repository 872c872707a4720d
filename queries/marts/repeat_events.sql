-- Events one by one, by the groups asked for, with the age and the stretch of age
-- over which the unit would have been watched.
-- grain:  one row per event and possible in-service date
-- reads:  int_repeat_events, int_watch, int_units, int_carriers, int_part_suppliers,
--         int_unit_columns, reporting_classes (region, reporting)
-- params: by_model, by_model_year, by_region, by_generation, by_build_month,
--         by_supplier, by_component, by_column_1, by_column_2, by_column_3,
--         on_own_cover (boolean; else on that of the whole unit),
--         tolerance_days (integer), longest_lag (integer)
with components_registered as (
    select distinct int_carriers.component
    from int_carriers
),

final as (
    select
        repairs.repair_no,
        dense_rank() over (
            order by
                -- facts first, so that the order of a sum hangs on no identifier
                watch.in_service_date,
                units.build_date,
                units.model,
                units.region,
                repairs.serial_key,
                -- parts are counted one by one
                case when $by_supplier then repairs.component end
        ) as unit_no,
        repairs.component,
        repairs.failure_mode,
        case when $by_model then units.model end as model,
        case when $by_model_year then units.model_year end as model_year,
        case when $by_region then units.region end as region,
        case when $by_generation then units.generation end as generation,
        case when $by_build_month then date_trunc('month', units.build_date) end
            as build_month,
        case when $by_column_1 then kept.column_1 end as column_1,
        case when $by_column_2 then kept.column_2 end as column_2,
        case when $by_column_3 then kept.column_3 end as column_3,
        case
            when not $by_supplier then null
            -- where a register says who carries whose part, a failure of a unit
            -- outside it has no denominator among them
            when
                registered.component is not null
                or (
                    not $by_component
                    and replaced.supplier in (
                        select int_carriers.supplier from int_carriers
                    )
                )
                then coalesce(carriers.supplier, 'unknown')
            else coalesce(replaced.supplier, 'unknown')
        end as supplier,
        repairs.event_no,
        repairs.gap_days,
        greatest(
            date_diff('day', watch.in_service_date, repairs.failed_on), 0
        ) as age_days,
        watch.entry_days,
        watch.planned_days as last_day,
        least(watch.seen_after, $longest_lag) as days_after,
        coalesce(reporting_classes.reporting, 0) as reporting,
        watch.distance_class as distance,
        cast(watch.weight as double) as weight
    from int_repeat_events as repairs
    inner join int_units as units  -- counted claims have a unit
        on repairs.serial_key = units.serial_key
    inner join int_watch as watch  -- a failure outside the watch is not counted
        on
            repairs.serial_key = watch.serial_key
            and watch.cover_class
            = case when $on_own_cover then repairs.cover_class else '' end
            and date_diff('day', watch.in_service_date, repairs.failed_on)
            between
            case
                when watch.entry_days > 0 then watch.entry_days
                else -cast($tolerance_days as integer)
            end
            and watch.planned_days
    left join int_carriers as carriers
        on
            $by_supplier
            and repairs.serial_key = carriers.serial_key
            and repairs.component = carriers.component
    left join components_registered as registered
        on $by_supplier and repairs.component = registered.component
    left join int_part_suppliers as replaced
        on
            $by_supplier
            and repairs.serial_key = replaced.serial_key
            and repairs.component = replaced.component
    left join int_unit_columns as kept
        on $by_column_1 and repairs.serial_key = kept.serial_key
    left join reporting_classes
        on units.region = reporting_classes.region
)

select * from final
order by repair_no, unit_no;
