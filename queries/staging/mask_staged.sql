-- What could not be read in rows of an erased person is told without its text.
-- reads:  masked_rows (source_row)
-- writes: staged
update staged
set
    reject_value = null,
    issues = list_transform(
        staged.issues,
        lambda issue: struct_pack(
            column_name := issue.column_name,
            value := cast(null as varchar),
            reason := issue.reason
        )
    )
from masked_rows
where staged.source_row = masked_rows.source_row;
