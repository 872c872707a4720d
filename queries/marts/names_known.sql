-- Names and numbers that the workspace knows: which must not leave the company, and
-- which look personal and may.
-- grain:  one row per kind of name and name
-- reads:  units_known, claims_known, claim_parts_known, parts_known,
--         fitted_parts_known, changes_known, responses_known, labels_known
with named as (
    select
        'dealer' as kind,
        units.dealer as name
    from units_known as units
    union all
    select
        'dealer' as kind,
        claims.dealer as name
    from claims_known as claims
    union all
    select
        'supplier' as kind,
        parts.supplier as name
    from parts_known as parts
    union all
    select
        'supplier' as kind,
        fitted.supplier as name
    from fitted_parts_known as fitted
    union all
    select
        'supplier' as kind,
        responses.supplier as name
    from responses_known as responses
    union all
    select
        'serial' as kind,
        units.serial as name
    from units_known as units
    union all
    select
        'serial' as kind,
        claims.serial as name
    from claims_known as claims
    union all
    select
        'part' as kind,
        parts.part_no as name
    from parts_known as parts
    union all
    select
        'part' as kind,
        claims.part_no as name
    from claims_known as claims
    union all
    select
        'part' as kind,
        claim_parts.part_no as name
    from claim_parts_known as claim_parts
    union all
    select
        'part' as kind,
        fitted.part_no as name
    from fitted_parts_known as fitted
    union all
    select
        'part' as kind,
        fitted.lot as name
    from fitted_parts_known as fitted
    union all
    select
        'claim' as kind,
        claims.claim_no as name
    from claims_known as claims
    union all
    select
        'model' as kind,
        units.model as name
    from units_known as units
    union all
    select
        'change' as kind,
        changes.change_no as name
    from changes_known as changes
    union all
    select
        'question' as kind,
        responses.question_no as name
    from responses_known as responses
    union all
    select
        'reviewer' as kind,
        labels.reviewer as name
    from labels_known as labels
),

final as (
    select distinct
        named.kind,
        named.name
    from named
    where trim(named.name) <> ''
)

select * from final
order by kind, name;
