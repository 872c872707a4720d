"""Gather from values how a column writes dates, and never guess the order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from claimlens.ingest.date_shapes import SPECIAL_FORMATS, readings_of, split_time
from claimlens.ingest.null_words import is_null_word

__all__ = ["DateEvidence", "DateReading"]

# A second date order, or a value that no format reads, may be this rare dirt.
_DIRT = 0.02
_DIGIT = re.compile(r"\d")
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
            found = (
                {
                    word: day
                    for word, day in readings_of(split_time(text)[0]).items()
                    if day is not None
                }
                if _DIGIT.search(text)
                else {}
            )
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
        read = _share_read(self, chosen)
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
        ranked = sorted(family, key=lambda word: (-self._weight(word), _rank(word)))
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
        if self._contradicts(best, rivals[0]):
            notes.append(f"as many values fit only {best} as fit only {rivals[0]}")
            return best, rivals[0]
        if not any(self.differing[words] for words in self.shaped if words <= family):
            notes.append(f"every value reads the same as {best} and as {rivals[0]}")
            return (best,)
        pair = tuple(sorted((best, rivals[0]), key=_rank))
        notes.append(
            f"every value, such as {self.example[best]!r}, reads both as {pair[0]} "
            f"and as {pair[1]}"
        )
        return pair

    def _weight(self, word: str) -> float:
        """Return how many values a format reads, unusual orders at a discount.

        A short year may stand for any day, so that 31.02.22, which is no day,
        still reads with the year first: such dirt must not outvote the rest.
        """
        count = self.formats[word]
        return count * (1.0 - _DIRT) if _rank(word) == 2 else float(count)

    def _contradicts(self, best: str, runner: str) -> bool:
        """Tell whether values fit the runner-up only, beyond rare dirt."""
        only = sum(
            count
            for words, count in self.shaped.items()
            if runner in words and best not in words
        )
        return only > _DIRT * self.formats[best]


def _share_read(evidence: DateEvidence, chosen: Collection[str]) -> int:
    """Return how many distinct values the chosen formats read."""
    return sum(
        count
        for words, count in evidence.shaped.items()
        if any(word in words for word in chosen)
    )


def _family_name(word: str) -> str:
    """Return a name shared by formats that differ in the order of parts only."""
    if word.startswith("yyyy") or word in SPECIAL_FORMATS or "mmm" in word:
        return word
    return re.sub(r"d+|m+|y+", lambda part: "#" * len(part.group()), word)


def _rank(word: str) -> int:
    """Order formats of equal evidence: year first and day first before others."""
    if word.startswith("yyyy") or _DAY_MONTH.fullmatch(word) or "mmm" in word:
        return 0
    if word.startswith("mm"):
        return 1
    return 2
