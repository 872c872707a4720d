-- How each distinct text of a typed column reads, and the macros that look it up.
-- Texts are read once per distinct value, in one place, whatever their language.
create or replace temp table readings (
    column_name varchar,
    text varchar,
    day date,
    moment timestamp,
    amount decimal(28, 6)
);

create or replace temp macro as_day(name, given) as (
    select any_value(readings.day)
    from readings
    where readings.column_name = name and readings.text = given
);

create or replace temp macro as_moment(name, given) as (
    select any_value(readings.moment)
    from readings
    where readings.column_name = name and readings.text = given
);

create or replace temp macro as_number(name, given) as (
    select any_value(cast(readings.amount as double))
    from readings
    where readings.column_name = name and readings.text = given
);

create or replace temp macro as_money(name, given) as (
    select any_value(try_cast(readings.amount as decimal(18, 4)))
    from readings
    where readings.column_name = name and readings.text = given
);

create or replace temp macro as_whole(name, given) as (
    select
        any_value(
            case
                when readings.amount = round(readings.amount)
                    then try_cast(readings.amount as integer)
            end
        )
    from readings
    where readings.column_name = name and readings.text = given
);

-- Closed vocabularies and currencies: allowed words stand in the same table.
create or replace temp table words (
    column_name varchar,
    text varchar,
    word varchar
);

create or replace temp macro as_word(name, given) as (
    select any_value(words.word)
    from words
    where
        words.column_name = name
        and words.text = lower(trim(given))
);

create or replace temp macro as_currency(given) as (
    select any_value(words.word)
    from words
    where
        words.column_name = 'currency'
        and words.text = lower(trim(given))
);

create or replace temp macro fault(name, given, unread, why) as
case
    when given is not null and unread
        then struct_pack(column_name := name, value := given, reason := why)
end;
