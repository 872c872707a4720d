-- How many older units were changed in the field.
-- grain:  one row
-- reads:  int_units, int_built, unit_changes_known
-- params: change_no (varchar), model (varchar; of all models where it is null),
--         starts_on, as_of (date)
with done as (
    select distinct upper(changes.serial) as serial_key
    from unit_changes_known as changes
    where
        upper(changes.change_no) = upper($change_no)
        and coalesce(changes.done_on, $as_of) <= $as_of
),

final as (
    select
        count(*) as n_older,
        count(done.serial_key) as n_done
    from int_units as units
    inner join int_built as built  -- a unit without any date has no side
        on units.serial_key = built.serial_key
    left join done
        on units.serial_key = done.serial_key
    where
        units.origin = 'register'
        and built.built_on < $starts_on
        and ($model is null or units.model = $model)
)

select * from final;
