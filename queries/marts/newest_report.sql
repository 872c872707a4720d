-- Oldest and newest believable report date, for the default cut-off.
-- grain:  one row
-- reads:  claims_known
with final as (
    select
        min(claims.reported_on) as oldest_on,
        max(claims.reported_on) as newest_on
    from claims_known as claims
    where
        claims.known_on = date '0001-01-01'
        or claims.reported_on <= claims.known_on
)

select * from final;
