-- The public views hold the rows of the tables behind them.
-- grain:  one row
-- reads:  every *_now, every *_current, classified_now, classifications
with shown as (
    select
        'units' as kind,
        concat_ws(' ', rows.serial) as name
    from units_now as rows
    union all
    select
        'shipments' as kind,
        concat_ws(' ', rows.model, rows.model_year, rows.month, rows.region) as name
    from shipments_now as rows
    union all
    select
        'claims' as kind,
        concat_ws(' ', rows.claim_no) as name
    from claims_now as rows
    union all
    select
        'claim_parts' as kind,
        concat_ws(' ', rows.claim_no, rows.part_no) as name
    from claim_parts_now as rows
    union all
    select
        'parts' as kind,
        concat_ws(' ', rows.part_no) as name
    from parts_now as rows
    union all
    select
        'findings' as kind,
        concat_ws(' ', rows.claim_no, rows.inspected_on, rows.part_no) as name
    from findings_now as rows
    union all
    select
        'changes' as kind,
        concat_ws(' ', rows.change_no, rows.component, rows.model) as name
    from changes_now as rows
    union all
    select
        'unit_changes' as kind,
        concat_ws(' ', rows.serial, rows.change_no) as name
    from unit_changes_now as rows
    union all
    select
        'responses' as kind,
        concat_ws(' ', rows.supplier, rows.question_no) as name
    from responses_now as rows
    union all
    select
        'fitted_parts' as kind,
        concat_ws(' ', rows.serial, rows.component, rows.part_no, rows.component_serial, rows.fitted_on) as name
    from fitted_parts_now as rows
    union all
    select
        'labels' as kind,
        concat_ws(' ', rows.claim_no, rows.reviewer) as name
    from labels_now as rows
    union all
    select
        'classifications' as kind,
        rows.claim_no as name
    from classified_now as rows
),

behind as (
    select
        'units' as kind,
        concat_ws(' ', rows.serial) as name
    from units_current as rows
    union all
    select
        'shipments' as kind,
        concat_ws(' ', rows.model, rows.model_year, rows.month, rows.region) as name
    from shipments_current as rows
    union all
    select
        'claims' as kind,
        concat_ws(' ', rows.claim_no) as name
    from claims_current as rows
    union all
    select
        'claim_parts' as kind,
        concat_ws(' ', rows.claim_no, rows.part_no) as name
    from claim_parts_current as rows
    union all
    select
        'parts' as kind,
        concat_ws(' ', rows.part_no) as name
    from parts_current as rows
    union all
    select
        'findings' as kind,
        concat_ws(' ', rows.claim_no, rows.inspected_on, rows.part_no) as name
    from findings_current as rows
    union all
    select
        'changes' as kind,
        concat_ws(' ', rows.change_no, rows.component, rows.model) as name
    from changes_current as rows
    union all
    select
        'unit_changes' as kind,
        concat_ws(' ', rows.serial, rows.change_no) as name
    from unit_changes_current as rows
    union all
    select
        'responses' as kind,
        concat_ws(' ', rows.supplier, rows.question_no) as name
    from responses_current as rows
    union all
    select
        'fitted_parts' as kind,
        concat_ws(' ', rows.serial, rows.component, rows.part_no, rows.component_serial, rows.fitted_on) as name
    from fitted_parts_current as rows
    union all
    select
        'labels' as kind,
        concat_ws(' ', rows.claim_no, rows.reviewer) as name
    from labels_current as rows
    union all
    select
        'classifications' as kind,
        rows.claim_no as name
    from classifications as rows
),

both_sides as (
    select
        shown.kind,
        shown.name,
        1 as side
    from shown
    union all
    select
        behind.kind,
        behind.name,
        -1
    from behind
),

broken as (
    select concat_ws(' ', both_sides.kind, both_sides.name) as name
    from both_sides
    group by both_sides.kind, both_sides.name
    having sum(both_sides.side) <> 0
),

final as (
    select
        'the public views hold the rows of the tables behind them'
            as meaning,
        'rows of the views v. rows of the tables' as compared,
        cast((select count(*) from shown) as double) as found,
        cast((select count(*) from behind) as double) as expected,
        (select count(*) from broken) as n_broken,
        (
            select list(firsts.name order by firsts.name)
            from (
                select distinct broken.name
                from broken
                order by broken.name
                limit 5
            ) as firsts
        ) as broken_keys
)

select * from final;
