-- Keys of the files of this call.
create or replace temp table kept_keys (
    account_no integer,
    kind varchar,
    row_key varchar,
    subject varchar
);
