-- Type the rows of a responses file, the faults of each row beside it.
-- grain:  one row per record of the file
-- reads:  raw_responses, readings (through the as_* macros)
-- params: known_on (date), columns (text)
create or replace temp table staged as
with typed as (
    select
        raw_responses as given,
        raw_responses.supplier,
        raw_responses.question_no,
        raw_responses.component,
        raw_responses.part_no,
        raw_responses.claim_no,
        as_day('asked_on', raw_responses.asked_on) as asked_on,
        as_day('due_on', raw_responses.due_on) as due_on,
        as_day('answered_on', raw_responses.answered_on) as answered_on,
        raw_responses.answer,
        as_day('charged_on', raw_responses.charged_on) as charged_on,
        as_money('amount_charged', raw_responses.amount_charged) as amount_charged,
        as_money('amount_accepted', raw_responses.amount_accepted) as amount_accepted,
        as_money('amount_received', raw_responses.amount_received) as amount_received,
        as_currency(raw_responses.currency) as currency
    from raw_responses
),

checked as (
    select
        typed.given.source_row as source_row,
        typed.supplier,
        typed.question_no,
        typed.component,
        typed.part_no,
        typed.claim_no,
        typed.asked_on,
        typed.due_on,
        typed.answered_on,
        typed.answer,
        typed.charged_on,
        typed.amount_charged,
        typed.amount_accepted,
        typed.amount_received,
        typed.currency,
        cast(typed.given.extra as json) as extra,
        case
            when typed.supplier is null then 'supplier'
            when typed.question_no is null then 'question_no'
        end as reject_column,
        case
            when typed.supplier is null then typed.given.supplier
            when typed.question_no is null then typed.given.question_no
        end as reject_value,
        case
            when typed.given.supplier is null then 'supplier is missing'
            when typed.given.question_no is null then 'question_no is missing'
        end as reject_reason,
        list_filter([
            fault(
                'amount_accepted', typed.given.amount_accepted,
                typed.amount_accepted is null,
                'amount_accepted is not an amount'
            ),
            fault(
                'amount_charged', typed.given.amount_charged,
                typed.amount_charged is null,
                'amount_charged is not an amount'
            ),
            fault(
                'amount_received', typed.given.amount_received,
                typed.amount_received is null,
                'amount_received is not an amount'
            ),
            fault(
                'answered_on', typed.given.answered_on,
                typed.answered_on is null,
                'answered_on is not a date'
            ),
            fault(
                'asked_on', typed.given.asked_on,
                typed.asked_on is null,
                'asked_on is not a date'
            ),
            fault(
                'charged_on', typed.given.charged_on,
                typed.charged_on is null,
                'charged_on is not a date'
            ),
            fault(
                'currency', typed.given.currency,
                typed.currency is null,
                'currency is not a code of ISO 4217'
            ),
            fault(
                'due_on', typed.given.due_on,
                typed.due_on is null,
                'due_on is not a date'
            )
        ], lambda issue: issue is not null) as issues,
        concat_ws(
            chr(31),
            cast(typed.supplier as varchar),
            cast(typed.question_no as varchar)
        ) as row_key,
        md5(concat_ws(
            chr(31), $columns, typed.given.extra,
            to_json(struct_pack(
                supplier := typed.supplier,
                question_no := typed.question_no,
                component := typed.component,
                part_no := typed.part_no,
                claim_no := typed.claim_no,
                asked_on := typed.asked_on,
                due_on := typed.due_on,
                answered_on := typed.answered_on,
                answer := typed.answer,
                charged_on := typed.charged_on,
                amount_charged := typed.amount_charged,
                amount_accepted := typed.amount_accepted,
                amount_received := typed.amount_received,
                currency := typed.currency
            ))
        )) as row_digest,
        cast($known_on as timestamp) as fact_at,
        cast(null as timestamp) as change_at
    from typed
)

select * from checked;
