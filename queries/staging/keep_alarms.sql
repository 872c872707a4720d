-- Remember which alarms were told, and forget those that stand no more, so that one
-- which comes back is news again.
-- reads:  int_alarms, told_now (kind, subject)
delete from alarms_told
where
    (alarms_told.kind, alarms_told.subject) not in (
        select
            alarms.kind,
            alarms.subject
        from int_alarms as alarms
    );

insert into alarms_told by name
select
    told_now.kind,
    told_now.subject
from told_now
left join alarms_told as told
    on told_now.kind = told.kind and told_now.subject = told.subject
where told.subject is null
order by told_now.kind, told_now.subject;
