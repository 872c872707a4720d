-- The engineering changes that concern one unit, and whether it has them: built so,
-- or changed in the field. A change that starts with a serial holds for what was built
-- after that unit.
-- grain:  one row per change
-- reads:  changes_known, unit_changes_known, units_of_register (serial, build_date),
--         component_words (text, component)
-- params: serial_key (varchar), model (varchar), build_date (date), as_of (date)
with done as (
    select
        upper(field.change_no) as change_key,
        min(field.done_on) as done_on
    from unit_changes_known as field
    where coalesce(field.done_on, $as_of) <= $as_of
    group by upper(field.change_no)
),

starts as (
    select
        changes.change_no,
        coalesce(words.component, changes.component) as component,
        changes.description,
        upper(changes.effective_serial) as effective_key,
        coalesce(changes.effective_build_date, units.build_date) as starts_on
    from changes_known as changes
    left join component_words as words
        on changes.component = words.text
    left join units_of_register as units
        on upper(changes.effective_serial) = upper(units.serial)
    where coalesce(changes.model = $model, true)
),

final as (
    select
        starts.change_no,
        starts.component,
        starts.description,
        starts.starts_on,
        done.done_on,
        case
            when done.change_key is not null then 'changed in the field'
            when starts.starts_on is null or cast($build_date as date) is null
                then 'not known'
            when
                cast($build_date as date) > starts.starts_on
                or (
                    cast($build_date as date) = starts.starts_on
                    and (
                        starts.effective_key is null
                        or starts.effective_key <= $serial_key
                    )
                )
                then 'built so'
            else 'lacks it'
        end as state
    from starts
    left join done
        on upper(starts.change_no) = done.change_key
)

select * from final
order by change_no;
