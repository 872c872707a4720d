"""Taking compound words apart: "Ladebuchsendeckel" is three words of the trade."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["parts_of"]

# Letters that join the words of a compound in German and Dutch.
_LINKS = ("", "s", "n", "en", "es", "er", "e")
_SHORTEST, _SHORTEST_ALONE = 3, 4


def parts_of(
    word: str, known: Callable[[str], str | None], unknown: str
) -> list[str] | None:
    """Return the stems of the words that a compound is made of.

    Parameters
    ----------
    word : str
        Lower-case letters, accents folded.
    known : callable
        Returns the stem of a word that the terms know, else None.
    unknown : str
        What stands for a word that they don't.

    Returns
    -------
    list of str or None
        All words if the compound can be cut into known ones; else the longest
        known end (or, failing that, beginning) beside ``unknown``; None where
        neither is known.
    """
    whole = _cut(word, known)
    if whole is not None:
        return whole
    for start in range(_SHORTEST, len(word) - _SHORTEST_ALONE + 1):
        end = known(word[start:])
        if end:
            return [unknown, end]
    for stop in range(len(word) - _SHORTEST, _SHORTEST_ALONE - 1, -1):
        begin = _linked(word[:stop], known, _SHORTEST_ALONE)
        if begin:
            return [begin, unknown]
    return None


def _linked(word: str, known: Callable[[str], str | None], least: int) -> str | None:
    """Return the stem of a first part, with or without the letters that join it."""
    for link in _LINKS:
        if link and not word.endswith(link):
            continue
        stem = word[: len(word) - len(link)]
        if len(stem) >= least:
            found = known(stem)
            if found:
                return found
    return None


def _cut(
    word: str, known: Callable[[str], str | None], depth: int = 3
) -> list[str] | None:
    """Cut a word into known ones, the longest last part first."""
    for start in range(_SHORTEST, len(word) - _SHORTEST + 1):
        end = known(word[start:])
        if not end:
            continue
        begin = _linked(word[:start], known, _SHORTEST)
        if begin:
            return [begin, end]
        if depth > 1:
            more = _cut(word[:start], known, depth - 1)
            if more is not None:
                return [*more, end]
    return None
