"""What the values of a column look like, gathered over a whole file."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from claimlens.ingest.date_evidence import DateEvidence, DateReading
from claimlens.ingest.date_shapes import SERIAL, UNIX_MILLISECONDS, UNIX_SECONDS
from claimlens.ingest.null_words import is_null_word
from claimlens.ingest.numbers import DecimalEvidence, DecimalReading, currency_of
from claimlens.ingest.skips import fold

__all__ = ["ColumnProfile", "ColumnValues", "value_word"]

_DISTINCT = 20_000
_ENOUGH = 3_000
_LONGEST_TYPED = 60
_LONGEST_CODE = 12
_DIGIT = re.compile(r"\d")
_EXAMPLES = 3
_BARE_DATES = (SERIAL, UNIX_SECONDS, UNIX_MILLISECONDS, "yyyymmdd")
_YEAR = re.compile(r"(?:MY\s*)?'?(?:19[89]\d|20[0-4]\d)(?:[.,]0)?", re.IGNORECASE)


@cache
def _value_words() -> dict[str, dict[str, str]]:
    path = Path(__file__).parent / "data" / "value_words.toml"
    with path.open("rb") as stream:
        words: dict[str, dict[str, list[str]]] = tomllib.load(stream)
    found: dict[str, dict[str, str]] = {}
    for name, meanings in words.items():
        known = found.setdefault(name, {})
        for meaning, texts in meanings.items():
            known.setdefault(_plain(meaning), meaning)
            for text in texts:
                known.setdefault(_plain(text), meaning)
    return found


def _plain(text: str) -> str:
    folded = fold(text)
    return folded.replace("ae", "a").replace("oe", "o").replace("ue", "u")


def _is_code(text: str) -> bool:
    """Tell whether a value by itself names a currency."""
    return (
        len(text) <= _LONGEST_CODE
        and _DIGIT.search(text) is None
        and currency_of(text) is not None
    )


def value_word(name: str, text: str) -> str | None:
    """Return the canonical word that a text means in a closed vocabulary.

    Parameters
    ----------
    name : {'status', 'finding', 'goodwill'}
        The field.
    text : str
        A value of the file.

    Returns
    -------
    str or None
        None where no word of six languages fits. A number or letter code
        before or after the word, such as ``2 - genehmigt``, is passed over.
    """
    known = _value_words().get(name, {})
    plain = _plain(text)
    if plain in known:
        return known[plain]
    words = plain.split()
    for shorter in (words[1:], words[:-1]):
        left = words[0] if shorter is words[1:] else None
        code = (words[0] if shorter == words[1:] else words[-1]) if words else ""
        if shorter and (code.isdigit() or len(code) == 1 or left is None):
            meaning = known.get(" ".join(shorter))
            if meaning and (code.isdigit() or len(code) == 1):
                return meaning
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnProfile:
    """One column of a file, summed up.

    Parameters
    ----------
    name : str
        The header.
    rows, filled : int
        Rows, and rows with a value (words such as ``n/a`` are none).
    counted : int
        Filled rows until so many distinct values had been seen that counting
        them was given up.
    distinct : int
        Distinct values among the rows counted; some 20,000 at most.
    examples : tuple of str
        The commonest values.
    values : dict of str to int
        Distinct values and how often they were seen, where they are few.
    length : float
        Mean length of the distinct values, in characters.
    words : float
        Mean number of words of the distinct values.
    dates : DateReading
        How the column writes dates, if it does.
    date_share, number_share, year_share, digit_share : float
        Distinct values that read as such, 0 to 1.
    currency_share : float
        Rows, or distinct values where they are many, that name a currency.
    numbers : DecimalReading
        How the column writes decimals, if it does.
    """

    name: str
    rows: int
    filled: int
    counted: int
    distinct: int
    examples: tuple[str, ...]
    values: dict[str, int]
    length: float
    words: float
    dates: DateReading
    date_share: float
    number_share: float
    year_share: float
    currency_share: float
    digit_share: float
    numbers: DecimalReading

    @property
    def null_share(self) -> float:
        """Return the share of rows without a value, 0 to 1."""
        return 1.0 - self.filled / self.rows if self.rows else 1.0

    @property
    def uniqueness(self) -> float:
        """Return distinct values per row counted, 0 to 1."""
        return min(self.distinct / self.counted, 1.0) if self.counted else 0.0

    def word_share(self, name: str) -> float:
        """Return the share of rows whose value is a word of a vocabulary."""
        if not self.values:
            return 0.0
        known = sum(
            count
            for text, count in self.values.items()
            if value_word(name, text) is not None
        )
        return known / sum(self.values.values())


@dataclass(slots=True)
class ColumnValues:
    """Gathers the values of one column, chunk by chunk."""

    name: str
    rows: int = 0
    filled: int = 0
    counts: Counter[str] = field(default_factory=Counter)
    dates: DateEvidence = field(default_factory=DateEvidence)
    numbers: DecimalEvidence = field(default_factory=DecimalEvidence)
    _seen: set[str] = field(default_factory=set)
    _counted: int = 0
    _years: int = 0
    _codes: int = 0
    _digits: int = 0
    _letters: int = 0
    _words: int = 0
    _typed: int = 0

    def add(self, values: Iterable[str | None]) -> None:
        """Take the values of a chunk."""
        column = list(values)
        self.rows += len(column)
        counts = Counter(value for value in column if value is not None)
        nothing = {text for text in counts if is_null_word(text)}
        for text in nothing:
            del counts[text]
        self.filled += counts.total()
        fresh = [text for text in counts if text not in self._seen]
        if len(self._seen) < _DISTINCT:
            self._counted = self.filled
            self._seen.update(fresh[:_DISTINCT])
            for text in fresh:
                self.counts[text] = counts[text]
            for text in counts.keys() - set(fresh):
                self.counts[text] += counts[text]
        self._measure(fresh)

    def _measure(self, fresh: list[str]) -> None:
        """Judge values not seen before.

        A column that has shown no date, or no number, in its first thousands
        of values is not asked again.
        """
        short = [text for text in fresh if len(text) <= _LONGEST_TYPED]
        if self._is_open(self.dates.values - self.dates.unread, self.dates.values):
            self.dates.add(short)
            self.dates.values += len(fresh) - len(short)
            self.dates.unread += len(fresh) - len(short)
        tried = self.numbers.numbers + self.numbers.others
        if self._is_open(self.numbers.numbers, tried):
            self.numbers.add(short)
            self.numbers.others += len(fresh) - len(short)
        if self._typed >= _DISTINCT:
            return
        self._typed += len(fresh)
        for text in fresh:
            has_digit = _DIGIT.search(text) is not None
            self._letters += len(text)
            self._words += text.count(" ") + 1
            self._digits += has_digit
            if has_digit:
                self._years += len(text) <= 10 and _YEAR.fullmatch(text) is not None
            else:
                self._codes += _is_code(text)

    @staticmethod
    def _is_open(hits: int, tried: int) -> bool:
        return tried < _ENOUGH or hits > 0.02 * tried

    def profile(self) -> ColumnProfile:
        """Sum up."""
        reading = self.dates.reading()
        typed = max(self._typed, 1)
        read = self.dates.values - self.dates.unread
        bare = sum(self.dates.formats[word] for word in _BARE_DATES)
        few = len(self.counts) <= 200
        codes = self._codes / typed
        if few and self.filled:
            # by rows: one mistyped code among three codes is no third of a file
            codes = sum(
                count for text, count in self.counts.items() if _is_code(text)
            ) / max(self.counts.total(), 1)
        return ColumnProfile(
            name=self.name,
            rows=self.rows,
            filled=self.filled,
            counted=self._counted,
            distinct=len(self._seen),
            examples=tuple(text for text, _ in self.counts.most_common(_EXAMPLES)),
            values=dict(self.counts) if few else {},
            length=self._letters / typed,
            words=self._words / typed,
            dates=reading,
            # day numbers and runs of digits are dates only if the header says so
            date_share=max(read - 0.5 * bare, 0.0) / max(self.dates.values, 1),
            number_share=self.numbers.numbers
            / max(self.numbers.numbers + self.numbers.others, 1),
            year_share=self._years / typed,
            currency_share=codes,
            digit_share=self._digits / typed,
            numbers=self.numbers.reading(),
        )
