"""Which ways a single text reads as a date."""

from __future__ import annotations

import re
import tomllib
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any, cast

from claimlens.ingest.skips import fold

__all__ = [
    "DAYS_1904",
    "SERIAL",
    "SPECIAL_FORMATS",
    "UNIX_MILLISECONDS",
    "UNIX_SECONDS",
    "date_words",
    "month_number",
    "readings_of",
    "serial_date",
    "split_time",
    "valid_date",
]

SERIAL = "serial day"
UNIX_SECONDS = "unix seconds"
UNIX_MILLISECONDS = "unix milliseconds"
SPECIAL_FORMATS = (SERIAL, UNIX_SECONDS, UNIX_MILLISECONDS)

_FIRST_YEAR, _LAST_YEAR = 1900, 2199
# Day numbers of workbooks: 1954 to 2119. Below lie plain counts and years.
_FIRST_SERIAL, _LAST_SERIAL = 20_000, 80_000
_SERIAL_ZERO = date(1899, 12, 30)
DAYS_1904 = 1462  # between the two day counts that workbooks use

_TIME = re.compile(
    r"(?P<day>.*?[\w.])(?:T|\s*,?\s+(?:(?:um|at|à|a las|alle|om)\s+)?)"
    r"(?P<time>\d{1,2}(?:[:h]\d{2}(?:[:m]\d{2}(?:[.,]\d+)?)?|\.\d{2}(?=\s*Uhr))"
    r"\s*(?:[ap]\.?m\.?|uhr|h|s)?\s*(?:z|utc|gmt|[+\-−]\d{2}:?\d{2}|[a-z]{3,4})?)",
    re.IGNORECASE,
)
_COMPACT_TIME = re.compile(r"(?P<day>\d{8})T?(?P<time>\d{6}|\d{4})(?:\.\d+)?Z?")
_NUMERIC = re.compile(r"(\d{1,4})\s*([./\-\s])\s*(\d{1,2})\s*\2\s*(\d{4}|\d{1,2})\.?")
_ISO_ZONE = re.compile(r"(\d{4}-\d{2}-\d{2})(?:Z|[+\-]\d{2}:?\d{2})")
_NAMED_DAY_FIRST = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|er|re|ero|[.ºª°])?[\s.\-/]*(?:(?:de|di|of)\s+)?"
    r"([^\W\d_]{3,})\.?[\s.,\-/]*(?:(?:de|del|di)\s+)?'?(\d{4}|\d{2})"
)
_NAMED_MONTH_FIRST = re.compile(
    r"([^\W\d_]{3,})\.?[\s.\-/]*(\d{1,2})(?:st|nd|rd|th)?(?:\s*,\s*|\s+|[\-/])'?"
    r"(\d{4}|\d{2})"
)
_NAMED_YEAR_FIRST = re.compile(r"(\d{4})[\s.\-/]*([^\W\d_]{3,})\.?[\s.\-/]*(\d{1,2})")
_NAMED_MONTH_ONLY = re.compile(r"([^\W\d_]{3,})\.?[\s.\-/]*'?(\d{4}|\d{2})")
_MONTH_ONLY = re.compile(r"(?:(\d{1,2})([./\-])(\d{4})|(\d{4})([./\-])(\d{1,2}))")
_WEEKDAY = re.compile(r"([^\W\d_]{2,10})\.?,?\s+(?=\S)")


@cache
def date_words() -> dict[str, Any]:
    """Return the file of date words."""
    path = Path(__file__).parent / "data" / "date_words.toml"
    with path.open("rb") as stream:
        return tomllib.load(stream)


@cache
def _months() -> dict[str, int]:
    return {
        word: int(number)
        for number, words in cast(
            "dict[str, list[str]]", date_words()["months"]
        ).items()
        for word in words
    }


@cache
def month_number(name: str) -> int | None:
    """Return the number of a month by its name in six languages, else None."""
    return _months().get(fold(name))


def full_year(text: str) -> int:
    """Return a year; two digits mean 2000 to 2069 and 1970 to 1999."""
    year = int(text)
    if len(text) > 2:
        return year
    return year + (2000 if year < 70 else 1900)


def valid_date(year: int, month: int, day: int) -> date | None:
    """Return the date, or None if there is no such day between 1900 and 2199."""
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        return None
    try:
        return date(year, month, day)
    except ValueError:
        return None


def serial_date(text: str, *, epoch: int = 1900) -> date | None:
    """Return the date of a workbook's day number, or None if out of range."""
    if not re.fullmatch(r"\d{5}(?:[.,]\d+)?", text):
        return None
    number = int(text[:5])
    if not _FIRST_SERIAL <= number <= _LAST_SERIAL:
        return None
    if epoch == 1904:
        number += DAYS_1904
    return _SERIAL_ZERO + timedelta(days=number)


def _unix_date(text: str) -> tuple[str, date] | None:
    """Read seconds or milliseconds since 1970, between 2001 and 2099."""
    if not re.fullmatch(r"\d{10}|\d{13}", text):
        return None
    seconds = int(text[:10])
    if not 10**9 <= seconds < 4_070_908_800:
        return None
    word = UNIX_SECONDS if len(text) == 10 else UNIX_MILLISECONDS
    return word, date(1970, 1, 1) + timedelta(days=seconds // 86_400)


#: More characters than any way to write a day and a time has.
_LONGEST = 200


def split_time(text: str) -> tuple[str, str | None]:
    """Return the day part of a text and its time part, weekday left out."""
    plain = text.strip().strip("'\"")
    if len(plain) > _LONGEST:  # the patterns below take the square of the length
        return plain, None
    zoned = _ISO_ZONE.fullmatch(plain)
    if zoned:
        return zoned.group(1), None
    match = _COMPACT_TIME.fullmatch(plain)
    if match and plain[:2] in ("19", "20"):
        return match.group("day"), match.group("time")
    match = _TIME.fullmatch(plain)
    day, time = (match.group("day"), match.group("time")) if match else (plain, None)
    day = day.rstrip(" ,")
    weekday = _WEEKDAY.match(day)
    if weekday and month_number(weekday.group(1)) is None:
        day = day[weekday.end() :]
    return day, time


def readings_of(text: str) -> dict[str, date | None]:
    """Return every way a text reads as a date.

    Parameters
    ----------
    text : str
        The day part, without time.

    Returns
    -------
    dict of str to date or None
        Format in words to the date; None where the text has that form but
        names no day of the calendar. Empty where it has the form of no date.
    """
    match = _NUMERIC.fullmatch(text)
    if match:
        return _numeric(*match.groups())
    if text.isdigit():
        return _digits(text)
    match = _MONTH_ONLY.fullmatch(text)
    if match:
        month, after, year, year_first, between, month_last = match.groups()
        if year:
            return {f"mm{after}yyyy": valid_date(int(year), int(month), 1)}
        return {f"yyyy{between}mm": valid_date(int(year_first), int(month_last), 1)}
    serial = serial_date(text)
    if serial is not None:
        return {SERIAL: serial}
    return _named(text)


def _numeric(first: str, mark: str, second: str, third: str) -> dict[str, date | None]:
    """Read three numbers with one separator."""
    a, b = int(first), int(second)
    if len(first) >= 3:
        if len(first) != 4 or len(third) > 2:
            return {}
        return {f"yyyy{mark}mm{mark}dd": valid_date(a, b, int(third))}
    if len(third) not in (2, 4):
        return {}
    year = full_year(third)
    yy = "y" * len(third)
    found: dict[str, date | None] = {
        f"dd{mark}mm{mark}{yy}": valid_date(year, b, a),
        f"mm{mark}dd{mark}{yy}": valid_date(year, a, b),
    }
    if len(third) == 2 and len(first) == 2:
        found[f"yy{mark}mm{mark}dd"] = valid_date(full_year(first), b, int(third))
    return found


def _digits(text: str) -> dict[str, date | None]:
    """Read a run of digits: a compact date, a day number, or unix time."""
    if len(text) == 8:
        return {
            word: found
            for word, found in (
                ("yyyymmdd", valid_date(int(text[:4]), int(text[4:6]), int(text[6:]))),
                ("ddmmyyyy", valid_date(int(text[4:]), int(text[2:4]), int(text[:2]))),
                ("mmddyyyy", valid_date(int(text[4:]), int(text[:2]), int(text[2:4]))),
            )
            if found is not None
        }
    serial = serial_date(text)
    if serial is not None:
        return {SERIAL: serial}
    unix = _unix_date(text)
    return {unix[0]: unix[1]} if unix else {}


def _named(text: str) -> dict[str, date | None]:
    """Read a date with a month's name."""
    for pattern, order, word in (
        (_NAMED_DAY_FIRST, "dmy", "d mmm yyyy"),
        (_NAMED_MONTH_FIRST, "mdy", "mmm d, yyyy"),
        (_NAMED_YEAR_FIRST, "ymd", "yyyy mmm d"),
        (_NAMED_MONTH_ONLY, "my", "mmm yyyy"),
    ):
        match = pattern.fullmatch(text)
        if not match:
            continue
        parts = dict(zip(order, match.groups(), strict=True))
        month = month_number(parts["m"])
        if month is None:
            continue
        day = int(parts.get("d", "1"))
        return {word: valid_date(full_year(parts["y"]), month, day)}
    return {}
