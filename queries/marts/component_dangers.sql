-- Claims of a component that tell of a danger, whatever their class. Only the words
-- that told of it are shown, never the text around them.
-- grain:  one row per claim
-- reads:  int_claims, classified_known
-- params: component (varchar), as_of (date)
with final as (
    select
        claims.claim_no,
        claims.serial,
        claims.component,
        claims.failure_mode,
        claims.reported_on,
        claims.open_until > $as_of as is_open,
        split_part(classified.evidence, '; danger: ', 2) as words_read
    from int_claims as claims
    inner join classified_known as classified  -- one row a claim
        on claims.claim_no = classified.claim_no
    where
        claims.is_wanted
        and claims.component = $component
        and claims.safety = 'yes'
)

select * from final
order by reported_on desc, claim_no;
