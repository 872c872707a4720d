-- How many inspections a claim has at most.
-- grain:  one row
-- reads:  all_findings
select coalesce(max(all_findings.inspection), 0)::integer as most
from all_findings;
