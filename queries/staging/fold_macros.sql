-- The newest value of a column among the versions whose file had that column.
create or replace temp macro fold(value, name, rank, present) as
arg_max_null(value, rank) filter (where list_contains(present, name));
