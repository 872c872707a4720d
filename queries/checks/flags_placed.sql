-- A flag is of a row that is there.
-- grain:  one row
-- reads:  flags_by_kind, flags, every *_current
with subjects as (
    select 'claims' as kind, claims_current.claim_no as subject from claims_current
    union
    select 'units', upper(units_current.serial) from units_current
    union
    select 'findings', findings_current.claim_no from findings_current
    union
    select 'claim_parts', claim_parts_current.claim_no from claim_parts_current
    union
    select 'labels', labels_current.claim_no from labels_current
    union
    select 'fitted_parts', fitted_parts_current.serial from fitted_parts_current
    union
    select 'unit_changes', unit_changes_current.serial from unit_changes_current
    union
    select 'responses', responses_current.row_key from responses_current
    union
    select 'parts', parts_current.part_no from parts_current
    union
    select 'changes', changes_current.change_no from changes_current
),

flagged as (
    select
        flags_by_kind.kind,
        flags_by_kind.subject,
        subjects.subject is not null as is_known
    from flags_by_kind
    left join subjects
        on
            flags_by_kind.kind = subjects.kind
            and flags_by_kind.subject = subjects.subject
),

broken as (
    select concat_ws(' ', flagged.kind, flagged.subject) as name
    from flagged
    where not flagged.is_known
),

final as (
    select
        'every flag is of a row that is there'
            as meaning,
        'flags of known rows v. flags' as compared,
        cast((select count(*) from flagged where flagged.is_known) as double) as found,
        cast((select count(*) from flags) as double) as expected,
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
