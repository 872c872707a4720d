"""Read dates as exports write them, and never guess an ambiguous order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cache, lru_cache

from claimlens.errors import InputError
from claimlens.ingest.date_shapes import (
    SERIAL,
    UNIX_MILLISECONDS,
    UNIX_SECONDS,
    date_words,
    readings_of,
    serial_date,
    split_time,
)
from claimlens.ingest.skips import fold

__all__ = [
    "DateEvidence",
    "DateReading",
    "check_format",
    "detect",
    "is_null_word",
    "parse",
    "parse_timestamp",
]

# A second date order, or a value that no format reads, may be this rare dirt.
_DIRT = 0.02
_SPECIAL = (SERIAL, UNIX_SECONDS, UNIX_MILLISECONDS)
_FORMAT = re.compile(
    r"(?:d{1,2}|m{1,4}|yyyy|yy)(?:[./\-\s,]*(?:d{1,2}|m{1,4}|yyyy|yy)){1,2}"
)
_CLOCK = re.compile(
    r"(\d{1,2})[:h.]?(\d{2})(?:[:m.]?(\d{2})(?:[.,](\d+))?)?\s*([ap])?\.?m?\.?"
    r"(?:\s*(?:uhr|h|s))?\s*(z|utc|gmt|[+\-−]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_DAY_MONTH = re.compile(r"dd(.?)mm\1(y+)")


@dataclass(frozen=True, slots=True)
class DateReading:
    """How a column writes its dates.

    Parameters
    ----------
    candidates : tuple of str
        Formats in words, best first; ``a or b`` where a column mixes forms.
        Two where the order is ambiguous, none where the column has no dates.
    ambiguous : bool
        Every value that could decide reads both as day/month and month/day.
    share : float
        Values that read as a date under the first candidate, 0 to 1.
    decided : bool
        Some value settles the order of day and month (or a name or a leading
        year does).
    note : str
        Why.
    """

    candidates: tuple[str, ...]
    ambiguous: bool
    share: float
    decided: bool
    note: str


@dataclass(slots=True)
class DateEvidence:
    """Gathers what the values of a column say of their date format."""

    formats: Counter[str] = field(default_factory=Counter)
    shaped: Counter[frozenset[str]] = field(default_factory=Counter)
    differing: Counter[frozenset[str]] = field(default_factory=Counter)
    values: int = 0
    unread: int = 0
    nothing: int = 0
    example: dict[str, str] = field(default_factory=dict)

    def add(self, texts: Iterable[str]) -> None:
        """Take distinct values."""
        for text in texts:
            if is_null_word(text):
                self.nothing += 1
                continue
            self.values += 1
            found = {
                word: day
                for word, day in readings_of(split_time(text)[0]).items()
                if day is not None
            }
            if not found:
                self.unread += 1
                continue
            words = frozenset(found)
            self.shaped[words] += 1
            if len(set(found.values())) > 1:
                self.differing[words] += 1
            for word in words:
                self.formats[word] += 1
                self.example.setdefault(word, text)

    def reading(self) -> DateReading:
        """Judge what was gathered."""
        readable = self.values - self.unread
        if not readable:
            return DateReading((), False, 0.0, False, "no value reads as a date")
        chosen: list[str] = []
        other: list[str] = []
        ambiguous = False
        notes: list[str] = []
        for family in self._families():
            size = sum(count for words, count in self.shaped.items() if words <= family)
            pick = self._pick(family, notes)
            if len(pick) == 2 and size <= _DIRT * readable:
                notes.append(f"{size} ambiguous values are left unread")
                continue
            if len(pick) == 2:
                ambiguous = True
            chosen.append(pick[0])
            other.append(pick[-1])
        if not chosen:
            return DateReading((), False, 0.0, False, "; ".join(notes))
        formats: tuple[str, ...] = (" or ".join(chosen),)
        if ambiguous:
            formats += (" or ".join(other),)
        read = parse_share(self, chosen)
        return DateReading(
            formats, ambiguous, read / self.values, not ambiguous, "; ".join(notes)
        )

    def _families(self) -> list[frozenset[str]]:
        """Return groups of formats that compete for the same values."""
        groups: list[set[str]] = []
        for words in sorted(self.shaped, key=lambda w: (-self.shaped[w], sorted(w))):
            merged = set(words)
            rest = []
            for group in groups:
                if group & merged:
                    merged |= group
                else:
                    rest.append(group)
            groups = [*rest, merged]
        # one separator and one order of parts is one family, even where no
        # value happens to read both ways
        joined: dict[str, set[str]] = {}
        for group in groups:
            for word in group:
                joined.setdefault(_family_name(word), set()).update(group)
        unique = {frozenset(group) for group in joined.values()}
        return sorted(
            unique, key=lambda f: (-max(self.formats[w] for w in f), sorted(f))
        )

    def _pick(self, family: frozenset[str], notes: list[str]) -> tuple[str, ...]:
        """Return the format of a family; two where day and month may swap."""
        ranked = sorted(family, key=lambda word: (-self.formats[word], _rank(word)))
        best = ranked[0]
        rivals = [
            word
            for word in ranked[1:]
            if self.formats[word] == self.formats[best] and _rank(word) < 2
        ]
        if not rivals or _rank(best) == 2:
            runner = next((word for word in ranked[1:] if _rank(word) < 2), None)
            if runner is None:
                notes.append(f"{self.formats[best]} values read as {best}")
            else:
                notes.append(
                    f"{self.formats[best]} values read as {best}, only "
                    f"{self.formats[runner]} as {runner}"
                )
                if self._contradicts(best, runner):
                    notes.append(f"too many values fit {runner} only")
                    return best, runner
            return (best,)
        if not any(self.differing[words] for words in self.shaped if words <= family):
            notes.append(f"every value reads the same as {best} and as {rivals[0]}")
            return (best,)
        pair = tuple(sorted((best, rivals[0]), key=_rank))
        notes.append(
            f"every value, such as {self.example[best]!r}, reads both as {pair[0]} "
            f"and as {pair[1]}"
        )
        return pair

    def _contradicts(self, best: str, runner: str) -> bool:
        """Tell whether values fit the runner-up only, beyond rare dirt."""
        only = sum(
            count
            for words, count in self.shaped.items()
            if runner in words and best not in words
        )
        return only > _DIRT * self.formats[best]


def parse_share(evidence: DateEvidence, chosen: Collection[str]) -> int:
    """Return how many distinct values the chosen formats read."""
    return sum(
        count
        for words, count in evidence.shaped.items()
        if any(word in words for word in chosen)
    )


def _family_name(word: str) -> str:
    """Return a name shared by formats that differ in the order of parts only."""
    if word.startswith("yyyy") or word in _SPECIAL or "mmm" in word:
        return word
    return re.sub(r"d+|m+|y+", lambda part: "#" * len(part.group()), word)


def _rank(word: str) -> int:
    """Order formats of equal evidence: year first and day first before others."""
    if word.startswith("yyyy") or _DAY_MONTH.fullmatch(word) or "mmm" in word:
        return 0
    if word.startswith("mm"):
        return 1
    return 2


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


@cache
def _nothing() -> frozenset[str]:
    return frozenset(date_words()["nothing"]["words"])


@cache
def _no_dates() -> frozenset[str]:
    return frozenset(date_words()["nothing"]["dates"])


@lru_cache(maxsize=65_536)
def is_null_word(text: str) -> bool:
    """Tell whether a text says that there is no value.

    Parameters
    ----------
    text : str
        A cell.

    Returns
    -------
    bool
        True for blanks, dashes, ``n/a``, ``unbekannt``, ``0000-00-00``.
    """
    plain = text.strip()
    if plain[:10] in _no_dates() and (len(plain) == 10 or not plain[10].isdigit()):
        return True
    if plain in _no_dates():
        return True
    return (
        len(plain) <= 24
        and not any(map(str.isdigit, plain))
        and (fold(plain) in _nothing())
    )


def check_format(text: str) -> None:
    """Raise ``InputError`` unless a text is a date format in words.

    Parameters
    ----------
    text : str
        Such as ``dd.mm.yyyy``, ``d mmm yyyy`` or ``dd/mm/yyyy or yyyymmdd``.
    """
    for word in _alternatives(text):
        if word in _SPECIAL:
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
        if word in _SPECIAL:
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
            if value is not None and word not in _SPECIAL and not word.startswith("yy.")
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
