-- Take what is erased out of every version of the responses: identifiers become
-- stand-ins, what a person wrote goes, and key and digest are those that the same row
-- would get if it came again.
-- reads:  erasing, mentioned, batches, responses_versions
-- writes: masked
create or replace temp table masked as
with marked as (
    select
        versions.rowid as place,
        claims.stand_in as claim_in,
        claims.plain is not null as is_erased,
        coalesce(claims.is_whole, false) as is_whole,
        mentioned.place is not null as is_named,
        mentioned.answer,
        cast(mentioned.extra as json) as extra
    from responses_versions as versions
    left join erasing as claims
        on claims.kind = 'claim' and versions.claim_no = claims.plain
    left join mentioned
        on versions.rowid = mentioned.place
    where
        claims.plain is not null
        or mentioned.place is not null
),

masked_rows as (
    select
        marked.place,
        versions.* replace (
            coalesce(marked.claim_in, versions.claim_no) as claim_no,
            case
                when not marked.is_whole then coalesce(marked.answer, versions.answer)
            end as answer,
            case
                when not marked.is_whole then coalesce(marked.extra, versions.extra)
            end as extra,
            case
                when not (marked.is_whole or marked.is_named) then versions.issues
                else valueless(versions.issues)
            end as issues
        )
    from marked
    inner join responses_versions as versions  -- only those
        on marked.place = versions.rowid
)

select
    masked_rows.place,
    masked_rows.row_key as old_key,
    masked_rows.* exclude (place) replace (
        concat_ws(
            chr(31),
            cast(masked_rows.supplier as varchar),
            cast(masked_rows.question_no as varchar)
        ) as row_key,
        md5(concat_ws(
            chr(31), array_to_string(batches.columns, ','),
            cast(masked_rows.extra as varchar),
            to_json(struct_pack(
                supplier := masked_rows.supplier,
                question_no := masked_rows.question_no,
                component := masked_rows.component,
                part_no := masked_rows.part_no,
                claim_no := masked_rows.claim_no,
                asked_on := masked_rows.asked_on,
                due_on := masked_rows.due_on,
                answered_on := masked_rows.answered_on,
                answer := masked_rows.answer,
                charged_on := masked_rows.charged_on,
                amount_charged := masked_rows.amount_charged,
                amount_accepted := masked_rows.amount_accepted,
                amount_received := masked_rows.amount_received,
                currency := masked_rows.currency
            ))
        )) as row_digest
    )
from masked_rows
inner join batches  -- every version belongs to a batch
    on masked_rows.batch = batches.batch;
