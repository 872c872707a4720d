-- Whose part failed in each claim: as the list of fitted parts has it for that day,
-- else as the part that the claim replaced tells, else the only supplier that the
-- parts list has for the component; case, blanks, hyphens and underscores do not tell
-- suppliers apart.
-- grain:  one row per claim of which it can be told
-- reads:  int_claims, int_replaced, fitted_parts_known, parts_known,
--         component_words (text, component)
create or replace temp table int_claim_suppliers as
with parts_fitted as (
    select
        claims.claim_no,
        fitted.supplier,
        fitted.part_no,
        fitted.lot,
        row_number() over (
            partition by claims.claim_no
            order by
                -- a part fitted on the day of the failure is its replacement
                case
                    when
                        coalesce(fitted.fitted_on, date '0001-01-01')
                        < claims.failed_on
                        then 0
                    else 1
                end,
                coalesce(fitted.fitted_on, date '0001-01-01') desc,
                fitted.supplier,
                fitted.part_no,
                fitted.lot
        ) as preference
    from int_claims as claims
    inner join fitted_parts_known as fitted  -- only units of the list
        on claims.serial_key = upper(fitted.serial)
    inner join component_words as words  -- every spelling has its row
        on
            fitted.component = words.text
            and claims.component = words.component
    where
        coalesce(fitted.fitted_on, date '0001-01-01') <= claims.failed_on
        and coalesce(fitted.removed_on, date '9999-12-31') >= claims.failed_on
),

parts_replaced as (
    select
        claims.claim_no,
        replaced.supplier,
        replaced.part_no,
        row_number() over (
            partition by claims.claim_no
            order by replaced.supplier nulls last, replaced.part_no
        ) as preference
    from int_claims as claims
    inner join int_replaced as replaced  -- only claims that name a part
        on claims.claim_no = replaced.claim_no
    inner join component_words as words
        on
            replaced.component = words.text
            and claims.component = words.component
),

components_supplied as (
    select
        words.component,
        min(parts.supplier) as supplier
    from parts_known as parts
    inner join component_words as words
        on parts.component = words.text
    where parts.supplier is not null
    group by words.component
    having
        count(
            distinct trim(
                regexp_replace(lower(parts.supplier), '[\s_-]+', ' ', 'g')
            )
        ) = 1
),

final as (
    select
        claims.claim_no,
        coalesce(fitted.supplier, replaced.supplier, supplied.supplier) as supplier,
        coalesce(fitted.part_no, replaced.part_no) as part_no,
        fitted.lot,
        case
            when fitted.supplier is not null then 'fitted'
            when replaced.supplier is not null then 'replaced'
            else 'parts list'
        end as told_by
    from int_claims as claims
    left join parts_fitted as fitted
        on claims.claim_no = fitted.claim_no and fitted.preference = 1
    left join parts_replaced as replaced
        on claims.claim_no = replaced.claim_no and replaced.preference = 1
    left join components_supplied as supplied
        on claims.component = supplied.component
)

select * from final
where supplier is not null;
