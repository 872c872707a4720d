-- Whose part of which component each unit carried first: its supplier, or what
-- another column says of the part.
-- grain:  one row per unit and component
-- reads:  fitted_parts_known, parts_known, component_words (text, component)
-- params: as_of (date), part_column (varchar; supplier, lot, part_no, or a column of
--         the lists of fitted parts or of parts that was kept as it came)
create or replace temp table int_carriers as
with parts_described as (
    select
        upper(parts.part_no) as part_key,
        any_value(try_cast(parts.extra as map (varchar, varchar))[$part_column])
            as described
    from parts_known as parts
    group by upper(parts.part_no)
),

parts_carried as (
    select
        upper(fitted.serial) as serial_key,
        words.component,
        fitted.fitted_on,
        fitted.removed_on,
        case $part_column
            when 'supplier' then fitted.supplier
            when 'lot' then fitted.lot
            when 'part_no' then fitted.part_no
            else
                coalesce(
                    try_cast(fitted.extra as map (varchar, varchar))[$part_column],
                    parts_described.described
                )
        end as supplier
    from fitted_parts_known as fitted
    inner join component_words as words  -- every spelling has its row
        on fitted.component = words.text
    left join parts_described
        on upper(fitted.part_no) = parts_described.part_key
    where coalesce(fitted.fitted_on, date '0001-01-01') <= $as_of
),

carriers_ranked as (
    select
        parts_carried.serial_key,
        parts_carried.component,
        parts_carried.supplier,
        row_number() over (
            partition by parts_carried.serial_key, parts_carried.component
            order by
                coalesce(parts_carried.fitted_on, date '0001-01-01'),
                coalesce(parts_carried.removed_on, date '9999-12-31'),
                parts_carried.supplier
        ) as preference
    from parts_carried
)

select
    ranked.serial_key,
    ranked.component,
    ranked.supplier
from carriers_ranked as ranked
where ranked.preference = 1 and ranked.supplier is not null;
