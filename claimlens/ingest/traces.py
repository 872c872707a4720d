"""What of something erased may still stand in files, and how it is found there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from claimlens.ingest.erased import Erased

__all__ = ["Phrases", "Traces"]

_WORD = re.compile(r"\w+")
_RUN = 4
_LONG_WORD = 5


def _words(text: str) -> list[str]:
    return _WORD.findall(text.casefold())


class Phrases:
    """Runs of words that only erased texts have.

    Parameters
    ----------
    texts : iterable of str
        What was erased: of each text every run of four words is looked for, of a
        shorter one the whole.
    """

    def __init__(self, texts: Iterable[str]) -> None:
        self._runs: set[tuple[str, ...]] = set()
        for text in texts:
            words = _words(text)
            if len(words) >= _RUN:
                self._runs.update(
                    zip(*(words[at:] for at in range(_RUN)), strict=False)
                )
            elif len(words) > 1 or (words and len(words[0]) >= _LONG_WORD):
                self._runs.add(tuple(words))
        self._lengths = sorted({len(run) for run in self._runs})

    def __bool__(self) -> bool:
        return bool(self._runs)

    def keep_own(self, others: Iterable[str]) -> None:
        """Forget the runs that other texts have as well.

        Parameters
        ----------
        others : iterable of str
            The texts that stay.
        """
        for text in others:
            if not self._runs:
                return
            self._runs.difference_update(self._found(text))

    def stand_in(self, text: str) -> bool:
        """Tell whether a text has one of the runs."""
        return bool(self._runs) and bool(self._found(text))

    def _found(self, text: str) -> set[tuple[str, ...]]:
        words = _words(text)
        found: set[tuple[str, ...]] = set()
        for length in self._lengths:
            runs = zip(*(words[at:] for at in range(length)), strict=False)
            found.update(self._runs.intersection(runs))
        return found


@dataclass
class Traces:
    """What to look for in the files of a workspace.

    Parameters
    ----------
    erased : Erased
        With the keys of what was erased.
    phrases : Phrases
        Of the erased texts, as long as they are known.
    plain : frozenset of str, optional
        The identifiers themselves in capitals, as long as they are known; without
        them each word is tried against the salted digests.
    rejected : mapping of str to frozenset of int
        By the SHA-256 of a text file: lines of rejected rows that name the person.
    """

    erased: Erased
    phrases: Phrases = field(default_factory=lambda: Phrases(()))
    plain: frozenset[str] | None = None
    rejected: Mapping[str, frozenset[int]] = field(default_factory=dict)
    _pattern: re.Pattern[str] | None = None

    def __post_init__(self) -> None:
        if self.plain:
            told = "|".join(re.escape(text) for text in sorted(self.plain))
            self._pattern = re.compile(told, re.IGNORECASE)

    def is_erased(self, cell: str) -> bool:
        """Tell whether a cell holds nothing but an erased serial or claim number."""
        text = cell.strip().removeprefix('="').removesuffix('"').strip()
        if not text or len(text) > 200:
            return False
        if self.plain is not None:
            return text.upper() in self.plain
        return (
            self.erased.stand_in("claim", text) is not None
            or self.erased.stand_in("serial", text) is not None
        )

    def masked(self, text: str, *, standing: bool = False) -> str:
        """Return a text without erased identifiers.

        Parameters
        ----------
        text : str
            Any text.
        standing : bool, default False
            Put stand-ins there, as the warehouse has them in its keys.
        """
        if self.plain is not None and not self._may_name(text):
            return text
        return self.erased.masked(text, standing=standing)

    def _may_name(self, text: str) -> bool:
        return self._pattern is not None and self._pattern.search(text) is not None

    def shown_by(self, text: str) -> bool:
        """Tell whether a text shows an erased identifier, or a run of erased words."""
        return self.masked(text) != text or self.phrases.stand_in(text)
