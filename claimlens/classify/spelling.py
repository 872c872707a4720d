"""Plain forms of words, and the correction of common misspellings."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

__all__ = ["Speller", "plain", "squeezed"]

_NOT_WORD = re.compile(r"[^0-9a-z]+")
_DOUBLE = re.compile(r"(.)\1+")
_SHORTEST = 5
# Below this length only a swap or a doubled letter counts as a slip.
_LONG = 6
_VOWELS = frozenset("aeiouy")


def plain(text: str) -> str:
    """Return a text in lower case without accents, punctuation or double blanks.

    Parameters
    ----------
    text : str
        Any spelling of a name, such as ``"Batt.-Pack"``.

    Returns
    -------
    str
        Words of the letters a to z and digits, one blank between them;
        empty where nothing of that kind is left.
    """
    decomposed = unicodedata.normalize("NFKD", text.lower().replace("ß", "ss"))
    letters = "".join(c for c in decomposed if not unicodedata.combining(c))
    return _NOT_WORD.sub(" ", letters).strip()


def squeezed(word: str) -> str:
    """Return the word with each run of one letter written once.

    Wrongly doubled and undoubled letters are the most common slips in
    claims ("batery", "baterry"), and both squeeze to the same form.
    """
    return _DOUBLE.sub(r"\1", word)


def _deletions(word: str) -> list[str]:
    """Return the word and each form of it with one letter left out."""
    return [word, *(word[:i] + word[i + 1 :] for i in range(len(word)))]


def _one_slip(wrong: str, right: str) -> bool:
    """Tell whether one slip of the fingers joins both words.

    A letter left out, put in, or swapped with its neighbour; a wrong letter
    only where both are vowels, since other pairs are mostly two real words
    ("hills", "halls").
    """
    start = 0
    while start < min(len(wrong), len(right)) and wrong[start] == right[start]:
        start += 1
    one, two = wrong[start:], right[start:]
    if len(one) != len(two):
        return one[1:] == two or one == two[1:]
    if one[1:] == two[1:]:
        return not one or (one[0] in _VOWELS and two[0] in _VOWELS)
    return one[:2] == two[1::-1] and one[2:] == two[2:]


class Speller:
    """Finds the known word that a misspelt one most likely means.

    Parameters
    ----------
    words : iterable of str
        Known words; those of fewer than five letters are never a target,
        because too many ordinary words lie one slip away.
    ordinary : iterable of str
        Words of everyday language that are never corrected.
    """

    def __init__(self, words: Iterable[str], ordinary: Iterable[str] = ()) -> None:
        known = sorted({word for word in words if len(word) >= _SHORTEST})
        self._ordinary = frozenset(ordinary)
        self._near: dict[str, list[str]] = {}
        for word in known:
            for form in set(_deletions(squeezed(word))):
                self._near.setdefault(form, []).append(word)

    def correct(self, word: str) -> str | None:
        """Return the known word one slip away, or None.

        Parameters
        ----------
        word : str
            Lower-case letters.

        Returns
        -------
        str or None
            The target with the same first letter (or the first two swapped)
            that needs the fewest slips; None for short or ordinary words,
            or where none is near. Ties are settled by the alphabet.
        """
        if len(word) < _SHORTEST or word in self._ordinary:
            return None
        short = squeezed(word)
        best: tuple[int, int, str] | None = None
        for form in _deletions(short):
            for target in self._near.get(form, ()):
                swapped = target[:2] == word[1::-1]
                if target[0] != word[0] and not swapped:
                    continue
                if not _one_slip(short, squeezed(target)):
                    continue
                slips = 0 if short == squeezed(target) else 1
                if len(target) < _LONG and slips and sorted(word) != sorted(target):
                    continue
                rank = (slips, abs(len(target) - len(word)), target)
                if best is None or rank < best:
                    best = rank
        return best[2] if best else None
