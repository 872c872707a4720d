"""Read dates as exports write them, and never guess an ambiguous order."""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import date, datetime, time, timedelta
from functools import cache

from claimlens.errors import InputError
from claimlens.ingest.date_evidence import DateEvidence, DateReading
from claimlens.ingest.date_shapes import (
    SPECIAL_FORMATS,
    readings_of,
    serial_date,
    split_time,
)
from claimlens.ingest.null_words import is_null_word

__all__ = [
    "DateEvidence",
    "DateReading",
    "check_format",
    "detect",
    "is_null_word",
    "parse",
    "parse_timestamp",
]

_FORMAT = re.compile(
    r"(?:d{1,2}|m{1,4}|yyyy|yy)(?:[./\-\s,]*(?:d{1,2}|m{1,4}|yyyy|yy)){1,2}"
)
_CLOCK = re.compile(
    r"(\d{1,2})[:h.]?(\d{2})(?:[:m.]?(\d{2})(?:[.,](\d+))?)?\s*([ap])?\.?m?\.?"
    r"(?:\s*(?:uhr|h|s))?\s*(z|utc|gmt|[+\-−]\d{2}:?\d{2})?",
    re.IGNORECASE,
)


def detect(values: Collection[str]) -> DateReading:
    """Find how a column writes its dates.

    Parameters
    ----------
    values : collection of str
        Distinct values; words that mean "no date" are passed over.

    Returns
    -------
    DateReading
        Candidates, and whether the order of day and month is ambiguous.
    """
    evidence = DateEvidence()
    evidence.add(values)
    return evidence.reading()


def check_format(text: str) -> None:
    """Raise ``InputError`` unless a text is a date format in words.

    Parameters
    ----------
    text : str
        Such as ``dd.mm.yyyy``, ``d mmm yyyy`` or ``dd/mm/yyyy or yyyymmdd``.
    """
    for word in _alternatives(text):
        if word in SPECIAL_FORMATS:
            continue
        marks = re.sub(r"[^dmy]", "", word)
        if not _FORMAT.fullmatch(word) or not ("m" in marks and "y" in marks):
            raise InputError(
                f"{text!r} is no date format.",
                remedy="write it with d, dd, m, mm, mmm (name), yy, yyyy and the "
                "separators of the file, such as dd.mm.yyyy",
            )


def _alternatives(text: str) -> list[str]:
    return [word.strip().lower() for word in text.split(" or ") if word.strip()]


@cache
def _accepted(text: str) -> tuple[str, ...]:
    """Return the canonical format words that a format text allows."""
    words: list[str] = []
    for word in _alternatives(text):
        if word in SPECIAL_FORMATS:
            words.append(word)
            continue
        if "mmm" in word:
            words += ["d mmm yyyy", "mmm d, yyyy", "yyyy mmm d", "mmm yyyy"]
            continue  # a month's name leaves no doubt about the order
        plain = re.sub(r"\bd\b|(?<![d])d(?!d)", "dd", word)
        plain = re.sub(r"(?<!m)m(?!m)", "mm", plain)
        words.append(plain)
        if plain.endswith(("yyyy", "yy")) and re.search(r"\W", plain):
            # 15.03.24 under dd.mm.yyyy, and the other way round
            stem = plain.rstrip("y")
            words += [stem + "yyyy", stem + "yy"]
    return tuple(words)


def _always_read(word: str) -> bool:
    """Tell whether a format leaves no doubt about the order."""
    return "d" in word and (
        word.startswith(("yyyy-", "yyyy/", "yyyy.")) or "mmm" in word
    )


def _one(
    text: str, accepted: tuple[str, ...] | None, serial: int | None
) -> date | None:
    """Read one text; None if it names no date under these formats."""
    day = split_time(text)[0]
    found = readings_of(day)
    for word in accepted or ():
        if found.get(word) is not None:
            return found[word]
    for word, value in found.items():
        if value is not None and (_always_read(word) or word == "yyyymmdd"):
            return value
    if serial is not None and (value := serial_date(day, epoch=serial)) is not None:
        return value
    if accepted is None:
        possible = {
            value
            for word, value in found.items()
            if value is not None
            and word not in SPECIAL_FORMATS
            and not word.startswith("yy.")
        }
        if len(possible) == 1:
            return possible.pop()
    return None


def parse(
    texts: Collection[str],
    format: str | None,  # the word of the settings file
    *,
    excel_serials: bool | int = False,
) -> dict[str, date | None]:
    """Read texts as dates.

    Parameters
    ----------
    texts : collection of str
        Distinct texts.
    format : str or None
        Format in words. ISO dates, other dates with the year in front and
        months written as names are read beside it, since they leave no doubt.
        With None, only texts that read in one way are read.
    excel_serials : bool or int, default False
        Read day numbers of workbooks; 1904 for workbooks that count from 1904.

    Returns
    -------
    dict of str to date or None
        None for a word that says "no date" and for a text that is no date;
        `is_null_word` tells them apart. A time after the date is passed over.
    """
    accepted = _accepted(format) if format is not None else None
    serial = None if not excel_serials else (1904 if excel_serials == 1904 else 1900)
    return {
        text: None if is_null_word(text) else _one(text, accepted, serial)
        for text in texts
    }


def parse_timestamp(
    texts: Collection[str],
    format: str | None,  # the word of the settings file
    *,
    excel_serials: bool | int = False,
) -> dict[str, datetime | None]:
    """Read texts as moments.

    Parameters
    ----------
    texts, format, excel_serials
        As in `parse`.

    Returns
    -------
    dict of str to datetime or None
        Without zone. A moment with a zone is turned into universal time, one
        without stands as written, a date alone is its first moment.
    """
    days = parse(texts, format, excel_serials=excel_serials)
    return {
        text: None if day is None else _moment(day, text) for text, day in days.items()
    }


def _moment(day: date, text: str) -> datetime:
    """Return the moment of a text whose day is known."""
    plain = text.strip()
    if re.fullmatch(r"\d{10}|\d{13}", plain):
        return datetime(1970, 1, 1) + timedelta(
            seconds=int(plain) / 10 ** (len(plain) - 10)
        )
    start = datetime.combine(day, time())
    if re.fullmatch(r"\d{5}[.,]\d+", plain):
        return start + timedelta(seconds=round(float("0." + plain[6:]) * 86_400))
    clock = _CLOCK.fullmatch((split_time(text)[1] or "").strip())
    if clock is None:
        return start
    hour, minute, second, fraction, half, zone = clock.groups()
    hours = int(hour)
    if half:
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    moment = start + timedelta(
        hours=hours,
        minutes=int(minute),
        seconds=int(second or 0),
        microseconds=int(((fraction or "") + "000000")[:6]),
    )
    return moment - _offset(zone)


def _offset(zone: str | None) -> timedelta:
    """Return how far a zone is ahead of universal time."""
    if not zone or zone[0] not in "+-−":
        return timedelta()
    digits = zone[1:].replace(":", "")
    ahead = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    return ahead if zone[0] == "+" else -ahead
