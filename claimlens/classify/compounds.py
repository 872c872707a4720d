"""Taking compound words apart: "Ladebuchsendeckel" is three words of the trade."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["parts_of"]

# Letters that join the words of a compound in German and Dutch.
_LINKS = ("", "s", "n", "en", "es", "er", "e")
_SHORTEST, _SHORTEST_ALONE = 3, 4
_MOST_CUTS = 3

Known = Callable[[str], str | None]


def parts_of(word: str, first: Known, last: Known, unknown: str) -> list[str] | None:
    """Return the stems of the words that a compound is made of.

    Parameters
    ----------
    word : str
        Lower-case letters, accents folded.
    first, last : callable
        Return the stem of a word that can stand before another one, and of one
        that can stand last; None for all other words.
    unknown : str
        What stands for a word that is not known.

    Returns
    -------
    list of str or None
        All words if the compound can be cut into known ones; else the longest
        known end (or, failing that, beginning) beside ``unknown``; None where
        neither is known.
    """
    whole = _cut(word, first, last, _MOST_CUTS)
    if whole is not None:
        return whole
    for start in range(_SHORTEST, len(word) - _SHORTEST_ALONE + 1):
        end = last(word[start:])
        if end:
            return [unknown, end]
    for stop in range(len(word) - _SHORTEST, _SHORTEST_ALONE - 1, -1):
        begin = _linked(word[:stop], first, _SHORTEST_ALONE)
        if begin:
            return [begin, unknown]
    return None


def _linked(word: str, first: Known, least: int) -> str | None:
    """Return the stem of a first part, with or without the letters that join it."""
    for link in _LINKS:
        if link and not word.endswith(link):
            continue
        stem = word[: len(word) - len(link)]
        if len(stem) >= least:
            found = first(stem)
            if found:
                return found
    return None


def _cut(word: str, first: Known, last: Known, cuts: int) -> list[str] | None:
    """Cut a word into known ones, the longest last part first."""
    for start in range(_SHORTEST, len(word) - _SHORTEST + 1):
        end = last(word[start:])
        if not end:
            continue
        begin = _linked(word[:start], first, _SHORTEST)
        if begin:
            return [begin, end]
        if cuts > 1:
            more = _cut(word[:start], first, first, cuts - 1)
            if more is not None:
                return [*more, end]
    return None
