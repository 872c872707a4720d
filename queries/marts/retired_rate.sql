-- Units retired in the last two years, and the unit-days in which they could be.
-- grain:  one row
-- reads:  int_units
-- params: as_of (date)
with stretches as (
    select
        units.quantity,
        units.retired_on,
        greatest(units.in_service_date, cast($as_of as date) - 730) as first_on,
        least(coalesce(units.retired_on, $as_of), $as_of) as last_on
    from int_units as units
    where units.in_service_date <= $as_of
),

final as (
    select
        cast(
            coalesce(
                sum(stretches.quantity) filter (
                    where stretches.retired_on between stretches.first_on and $as_of
                ),
                0
            ) as double
        ) as n_retired,
        cast(
            coalesce(
                sum(
                    stretches.quantity
                    * greatest(
                        date_diff('day', stretches.first_on, stretches.last_on), 0
                    )
                ),
                0
            ) as double
        ) as unit_days
    from stretches
)

select * from final;
