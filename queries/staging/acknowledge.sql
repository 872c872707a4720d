-- Keep what a person said of a signal, in place of what was said for that month-end.
-- reads:  acknowledged_now (as signal_acknowledgements)
delete from signal_acknowledgements
using acknowledged_now
where
    signal_acknowledgements.component = acknowledged_now.component
    and signal_acknowledgements.model = acknowledged_now.model
    and signal_acknowledgements.as_of = acknowledged_now.as_of;

insert into signal_acknowledgements by name
select * from acknowledged_now;
