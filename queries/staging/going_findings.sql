-- Inspections in the order of their days, so that a cut-off between them can be asked.
-- grain:  one row per inspection
-- reads:  folded (findings)
-- writes: all_findings
create or replace temp table all_findings as
select
    folded.*,
    dense_rank() over (
        partition by folded.claim_no
        order by coalesce(folded.inspected_on, date '0001-01-01')
    ) - max(cast(folded.inspected_on is null as integer)) over (
        partition by folded.claim_no
    ) as inspection
from folded;
