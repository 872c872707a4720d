-- Type the rows of a claims file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_claims, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_claims as given,
        raw_claims.claim_no,
        as_day('reported_on', raw_claims.reported_on) as reported_on,
        raw_claims.serial,
        raw_claims.model,
        as_whole('model_year', raw_claims.model_year) as model_year,
        as_day('in_service_date', raw_claims.in_service_date) as in_service_date,
        as_day('failed_on', raw_claims.failed_on) as failed_on,
        as_day('decided_on', raw_claims.decided_on) as decided_on,
        as_day('closed_on', raw_claims.closed_on) as closed_on,
        as_word('status', raw_claims.status) as status,
        raw_claims.decision_reason,
        as_money('amount_requested', raw_claims.amount_requested) as amount_requested,
        as_money('amount_approved', raw_claims.amount_approved) as amount_approved,
        raw_claims.narrative,
        raw_claims.technician_note,
        raw_claims.resolution,
        as_number('usage', raw_claims.usage) as usage,
        raw_claims.usage_unit,
        raw_claims.region,
        raw_claims.dealer,
        raw_claims.part_no,
        as_number('quantity', raw_claims.quantity) as quantity,
        as_money('cost_parts', raw_claims.cost_parts) as cost_parts,
        as_money('cost_labour', raw_claims.cost_labour) as cost_labour,
        as_money('cost_freight', raw_claims.cost_freight) as cost_freight,
        as_money('cost_total', raw_claims.cost_total) as cost_total,
        as_currency(raw_claims.currency) as currency,
        as_word('goodwill', raw_claims.goodwill) as goodwill,
        as_moment('updated_at', raw_claims.updated_at) as updated_at
    from raw_claims
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.claim_no,
        typed.reported_on,
        typed.serial,
        typed.model,
        typed.model_year,
        typed.in_service_date,
        typed.failed_on,
        typed.decided_on,
        typed.closed_on,
        typed.status,
        typed.decision_reason,
        typed.amount_requested,
        typed.amount_approved,
        typed.narrative,
        typed.technician_note,
        typed.resolution,
        typed.usage,
        typed.usage_unit,
        typed.region,
        typed.dealer,
        typed.part_no,
        typed.quantity,
        typed.cost_parts,
        typed.cost_labour,
        typed.cost_freight,
        typed.cost_total,
        typed.currency,
        typed.goodwill,
        typed.updated_at,
        cast(typed.given.extra as json) as extra,
        case
            when typed.claim_no is null then 'claim_no'
            when typed.reported_on is null then 'reported_on'
        end as reject_column,
        case
            when typed.claim_no is null then typed.given.claim_no
            when typed.reported_on is null then typed.given.reported_on
        end as reject_value,
        case
            when typed.given.claim_no is null then 'claim_no is missing'
            when typed.given.reported_on is null then 'reported_on is missing'
            when typed.reported_on is null
                then 'reported_on is not a date'
        end as reject_reason,
        list_filter([
            fault(
                'currency', typed.given.currency,
                typed.currency is null,
                'currency is not a code of ISO 4217'
            ),
            fault(
                'model_year', typed.given.model_year,
                typed.model_year is null,
                'model_year is not a whole number'
            ),
            fault(
                'in_service_date', typed.given.in_service_date,
                typed.in_service_date is null,
                'in_service_date is not a date'
            ),
            fault(
                'failed_on', typed.given.failed_on,
                typed.failed_on is null,
                'failed_on is not a date'
            ),
            fault(
                'decided_on', typed.given.decided_on,
                typed.decided_on is null,
                'decided_on is not a date'
            ),
            fault(
                'closed_on', typed.given.closed_on,
                typed.closed_on is null,
                'closed_on is not a date'
            ),
            fault(
                'status', typed.given.status,
                typed.status is null,
                'status is not one of: open, approved, denied, cancelled, closed'
            ),
            fault(
                'amount_requested', typed.given.amount_requested,
                typed.amount_requested is null,
                'amount_requested is not an amount'
            ),
            fault(
                'amount_approved', typed.given.amount_approved,
                typed.amount_approved is null,
                'amount_approved is not an amount'
            ),
            fault(
                'usage', typed.given.usage,
                typed.usage is null,
                'usage is not a number'
            ),
            fault(
                'quantity', typed.given.quantity,
                typed.quantity is null,
                'quantity is not a number'
            ),
            fault(
                'cost_parts', typed.given.cost_parts,
                typed.cost_parts is null,
                'cost_parts is not an amount'
            ),
            fault(
                'cost_labour', typed.given.cost_labour,
                typed.cost_labour is null,
                'cost_labour is not an amount'
            ),
            fault(
                'cost_freight', typed.given.cost_freight,
                typed.cost_freight is null,
                'cost_freight is not an amount'
            ),
            fault(
                'cost_total', typed.given.cost_total,
                typed.cost_total is null,
                'cost_total is not an amount'
            ),
            fault(
                'goodwill', typed.given.goodwill,
                typed.goodwill is null,
                'goodwill is not one of: yes, no'
            ),
            fault(
                'updated_at', typed.given.updated_at,
                typed.updated_at is null,
                'updated_at is not a date and time'
            )
        ], lambda issue: issue is not null) as issues,
        cast(typed.claim_no as varchar) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                claim_no := typed.claim_no,
                reported_on := typed.reported_on,
                serial := typed.serial,
                model := typed.model,
                model_year := typed.model_year,
                in_service_date := typed.in_service_date,
                failed_on := typed.failed_on,
                decided_on := typed.decided_on,
                closed_on := typed.closed_on,
                status := typed.status,
                decision_reason := typed.decision_reason,
                amount_requested := typed.amount_requested,
                amount_approved := typed.amount_approved,
                narrative := typed.narrative,
                technician_note := typed.technician_note,
                resolution := typed.resolution,
                usage := typed.usage,
                usage_unit := typed.usage_unit,
                region := typed.region,
                dealer := typed.dealer,
                part_no := typed.part_no,
                quantity := typed.quantity,
                cost_parts := typed.cost_parts,
                cost_labour := typed.cost_labour,
                cost_freight := typed.cost_freight,
                cost_total := typed.cost_total,
                currency := typed.currency,
                goodwill := typed.goodwill,
                updated_at := typed.updated_at
            ))
        )) as row_digest,
        coalesce(typed.updated_at, cast($known_on as timestamp)) as fact_at,
        coalesce(
            typed.updated_at,
            cast(
                greatest(typed.closed_on, typed.decided_on, typed.reported_on)
                as timestamp
            )
        ) as change_at
    from typed
)

select * from checked;
