"""Dates as exports write them."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from claimlens.errors import InputError
from claimlens.ingest import dates
from claimlens.ingest.date_shapes import split_time

MARCH = date(2024, 3, 15)


@pytest.mark.parametrize(
    ("text", "format_words"),
    [
        ("15.03.2024", "dd.mm.yyyy"),
        ("15.3.24", "dd.mm.yyyy"),
        ("03/15/2024", "mm/dd/yyyy"),
        ("15-03-2024", "dd-mm-yyyy"),
        ("2024/03/15", "dd.mm.yyyy"),
        ("20240315", "yyyymmdd"),
        ("15032024", "ddmmyyyy"),
        ("2024-03-15T23:30:00+02:00", None),
        ("2024-03-15 00:00:00.000", "dd/mm/yyyy"),
        ("Fr, 15.03.2024 14:05 Uhr", "dd.mm.yyyy"),
        ("15/03/2024 2:05 PM", "dd/mm/yyyy"),
        ("March 15, 2024", None),
        ("15-Mar-24", None),
        ("15. März 2024", None),
        ("15 mars 2024", None),
        ("vendredi 15 mars 2024", None),
        ("15 maart 2024", None),
        ("15 de marzo de 2024", None),
        ("15 marzo 2024", None),
        ("1710498600", "unix seconds"),
        ("45366", "serial day"),
    ],
)
def test_one_day_is_read_from_every_way_of_writing_it(
    text: str, format_words: str | None
) -> None:
    assert dates.parse([text], format_words) == {text: MARCH}


@pytest.mark.parametrize(
    "text",
    ["31.02.2024", "00.05.2024", "2024-13-01", "99.99.9999", "tomorrow", "15.03"],
)
def test_an_impossible_date_is_none_and_no_null_word(text: str) -> None:
    assert dates.parse([text], "dd.mm.yyyy") == {text: None}
    assert not dates.is_null_word(text)


@pytest.mark.parametrize(
    "text",
    [
        *("", "-", "--", "n/a", "N.A.", "unbekannt", "inconnu", "onbekend"),
        *("desconocido", "sconosciuto", "0000-00-00", "00.00.0000", "31.12.9999"),
        *("k.A.", "NULL", "00000000", "0001-01-01T00:00:00"),
    ],
)
def test_words_for_no_date_are_told_from_unreadable_dates(text: str) -> None:
    assert dates.is_null_word(text)


@pytest.mark.parametrize("text", ["pending", "open", "0", "no", "S/N 4", "2024-01-01"])
def test_values_are_no_null_words(text: str) -> None:
    assert not dates.is_null_word(text)


def test_a_column_that_reads_both_ways_is_ambiguous() -> None:
    reading = dates.detect(["03/04/2024", "05/06/2024", "n/a"])
    assert reading.ambiguous
    assert reading.candidates == ("dd/mm/yyyy", "mm/dd/yyyy")


def test_equal_day_and_month_are_not_ambiguous() -> None:
    assert not dates.detect(["03/03/2024", "05/05/2024"]).ambiguous


def test_one_value_beyond_twelve_decides_the_order() -> None:
    assert dates.detect(["03/04/2024", "13/04/2024"]).candidates == ("dd/mm/yyyy",)
    assert dates.detect(["03/04/2024", "04/13/2024"]).candidates == ("mm/dd/yyyy",)


def test_an_impossible_date_does_not_decide_the_order() -> None:
    reading = dates.detect(["03/04/2024", "31/02/2024", "13/13/2024"])
    assert reading.ambiguous


def test_a_column_that_contradicts_itself_is_not_decided() -> None:
    values = [f"{day:02d}/01/2024" for day in range(13, 25)]
    values += [f"01/{day:02d}/2024" for day in range(13, 25)]
    assert dates.detect(values).ambiguous


def test_rare_dirt_does_not_undo_a_clear_order() -> None:
    values = [f"{day:02d}.{month:02d}.2024" for day in range(1, 29) for month in (1, 7)]
    reading = dates.detect([*values, "07.31.2024"])
    assert reading.candidates[0] == "dd.mm.yyyy"
    assert not reading.ambiguous


def test_mixed_forms_are_joined_with_or() -> None:
    reading = dates.detect(["2024-03-15", "2024-03-16", "15.03.2024", "01.02.2024"])
    parsed = dates.parse(["15.03.2024", "2024-03-15"], reading.candidates[0])
    assert set(parsed.values()) == {MARCH}


def test_without_a_format_an_ambiguous_text_is_not_read() -> None:
    parsed = dates.parse(["03/04/2024", "13/04/2024", "2024-04-13"], None)
    assert parsed["03/04/2024"] is None
    assert parsed["13/04/2024"] == parsed["2024-04-13"] == date(2024, 4, 13)


def test_the_other_order_is_not_read_under_a_format() -> None:
    assert dates.parse(["04/13/2024"], "dd/mm/yyyy") == {"04/13/2024": None}


def test_serial_days_are_read_only_when_allowed() -> None:
    assert dates.parse(["45366"], "dd.mm.yyyy") == {"45366": None}
    assert dates.parse(["45366"], "dd.mm.yyyy", excel_serials=True)["45366"] == MARCH
    assert dates.parse(["43904"], None, excel_serials=1904)["43904"] == MARCH


def test_two_digit_years_turn_at_seventy() -> None:
    parsed = dates.parse(["01.01.69", "01.01.70"], "dd.mm.yy")
    assert [day.year for day in parsed.values() if day] == [2069, 1970]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2024-03-15T14:05:06Z", datetime(2024, 3, 15, 14, 5, 6)),
        ("2024-03-15T14:05:06+02:00", datetime(2024, 3, 15, 12, 5, 6)),
        ("15.03.2024 14:05", datetime(2024, 3, 15, 14, 5)),
        ("15.03.2024 2:05 PM", datetime(2024, 3, 15, 14, 5)),
        ("15.03.2024", datetime(2024, 3, 15)),
    ],
)
def test_moments_keep_their_time(text: str, moment: datetime) -> None:
    assert dates.parse_timestamp([text], "dd.mm.yyyy") == {text: moment}


@pytest.mark.parametrize("text", ["dd.mm.yyyy", "d mmm yyyy", "dd/mm/yyyy or yyyymmdd"])
def test_formats_in_words_are_accepted(text: str) -> None:
    dates.check_format(text)


@pytest.mark.parametrize("text", ["%d.%m.%Y", "day month year", "dd.dd", ""])
def test_other_formats_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        dates.check_format(text or "x")


def test_a_text_too_long_for_a_day_is_no_day_at_once() -> None:
    """A field of 300,000 characters once held up a load for minutes."""
    long = "2024-03-15 " + "12:" * 100_000
    assert split_time(long) == (long.strip(), None)
