-- What persons said of signals.
-- grain:  one row per component, model ('' for all) and month-end
-- reads:  signal_acknowledgements
with final as (
    select
        acknowledged.component,
        acknowledged.model,
        acknowledged.as_of,
        acknowledged.acknowledged_by,
        acknowledged.reason,
        acknowledged.until
    from signal_acknowledgements as acknowledged
)

select * from final
order by as_of, component, model;
