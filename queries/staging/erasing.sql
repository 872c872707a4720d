-- What is to be erased, empty yet, and a macro of the steps that follow.
create or replace temp table erasing (
    kind varchar,
    plain varchar,
    stand_in varchar,
    is_whole boolean
);

create or replace temp macro valueless(issues) as
list_transform(
    issues,
    lambda issue: struct_pack(
        column_name := issue.column_name,
        value := cast(null as varchar),
        reason := issue.reason
    )
);
