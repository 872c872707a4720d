-- Alarms that no run has told yet, newest first.
-- grain:  one row per kind and subject
-- reads:  int_alarms, alarms_told
with final as (
    select
        alarms.kind,
        alarms.subject,
        alarms.raised_on,
        alarms.serial,
        alarms.component,
        alarms.words_read
    from int_alarms as alarms
    left join alarms_told as told
        on alarms.kind = told.kind and alarms.subject = told.subject
    where told.subject is null
)

select * from final
order by raised_on desc, kind, subject;
