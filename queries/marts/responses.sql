-- What suppliers were asked by the cut-off, and what was known then of their answers
-- and payments. No day of a payment is known: it is later than the charge and the
-- answer.
-- grain:  one row per supplier and question
-- reads:  responses_known
-- params: as_of (date)
with final as (
    select
        responses.supplier,
        responses.question_no,
        responses.component,
        responses.part_no,
        responses.claim_no,
        responses.asked_on,
        responses.due_on,
        case when responses.answered_on <= $as_of then responses.answered_on end
            as answered_on,
        case
            when coalesce(responses.answered_on, date '0001-01-01') <= $as_of
                then responses.answer
        end as answer,
        case when responses.charged_on <= $as_of then responses.charged_on end
            as charged_on,
        cast(
            case
                when coalesce(responses.charged_on, date '0001-01-01') <= $as_of
                    then responses.amount_charged * 10000
            end as bigint
        ) as charged_e4,
        cast(
            case
                when coalesce(responses.answered_on, date '0001-01-01') <= $as_of
                    then responses.amount_accepted * 10000
            end as bigint
        ) as accepted_e4,
        cast(
            case
                when
                    greatest(
                        coalesce(responses.charged_on, date '0001-01-01'),
                        coalesce(responses.answered_on, date '0001-01-01')
                    )
                    <= $as_of
                    then responses.amount_received * 10000
            end as bigint
        ) as received_e4,
        coalesce(responses.currency, '') as currency
    from responses_known as responses
    where coalesce(responses.asked_on, date '0001-01-01') <= $as_of
)

select * from final
order by supplier, asked_on, question_no;
