-- Type the rows of a claim_parts file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_claim_parts, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_claim_parts as given,
        raw_claim_parts.claim_no,
        raw_claim_parts.part_no,
        as_number('quantity', raw_claim_parts.quantity) as quantity,
        as_money('unit_cost', raw_claim_parts.unit_cost) as unit_cost,
        as_currency(raw_claim_parts.currency) as currency
    from raw_claim_parts
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.claim_no,
        typed.part_no,
        typed.quantity,
        typed.unit_cost,
        typed.currency,
        cast(typed.given.extra as json) as extra,
        case
            when typed.claim_no is null then 'claim_no'
            when typed.part_no is null then 'part_no'
        end as reject_column,
        case
            when typed.claim_no is null then typed.given.claim_no
            when typed.part_no is null then typed.given.part_no
        end as reject_value,
        case
            when typed.given.claim_no is null then 'claim_no is missing'
            when typed.given.part_no is null then 'part_no is missing'
        end as reject_reason,
        list_filter([
            fault(
                'currency', typed.given.currency,
                typed.currency is null,
                'currency is not a code of ISO 4217'
            ),
            fault(
                'quantity', typed.given.quantity,
                typed.quantity is null,
                'quantity is not a number'
            ),
            fault(
                'unit_cost', typed.given.unit_cost,
                typed.unit_cost is null,
                'unit_cost is not an amount'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.claim_no as varchar),
            cast(typed.part_no as varchar)
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                claim_no := typed.claim_no,
                part_no := typed.part_no,
                quantity := typed.quantity,
                unit_cost := typed.unit_cost,
                currency := typed.currency
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
