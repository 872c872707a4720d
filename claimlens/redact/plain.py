"""A text as a reader sees it, with the way back to the characters as they came."""

from __future__ import annotations

import html
import re
import unicodedata
from dataclasses import dataclass

__all__ = ["Plain", "folded", "plain", "squeezed"]

_ODD = re.compile(
    r"&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z]{2,8});"
    r"|-[ \t]?\r?\n[ \t]{0,20}(?=[a-zà-ÿ])|[^\x00-\x7f]"
)
_LETTERS = dict(
    zip("ßæœøłđðþı", ("ss", "ae", "oe", "o", "l", "d", "d", "th", "i"), strict=True)
)
_DIPHTHONGS = re.compile(r"([aou])e")
_BEFORE_E = frozenset("aou")
_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Plain:
    """A text in composed, ordinary characters.

    Attributes
    ----------
    text : str
        Entities are resolved, invisible characters left out, wide and other
        variant forms made ordinary, words joined that a line end had parted.
    origin : list of int
        For each character of ``text``, and for its end, the place in the text as
        it came.
    ends : list of int
        For each character, the place after it in the text as it came.
    """

    text: str
    origin: list[int]
    ends: list[int]

    def back(self, start: int, end: int) -> tuple[int, int]:
        """Return the piece of the text as it came that a piece of this one is."""
        return self.origin[start], self.ends[end - 1]


def _ordinary(character: str) -> str:
    """Return what a reader sees of one character, nothing if it is invisible."""
    if unicodedata.category(character) in ("Cf", "Cn", "Co"):
        return ""
    digit = unicodedata.digit(character, None)
    if digit is not None and unicodedata.category(character) == "Nd":
        return str(digit)
    if character in "²³¹":
        return character
    if character in "‐‑‒–—―−":
        return "-"
    if character in "‘’ʼ´`":
        return "'"
    return unicodedata.normalize("NFKC", character)


def plain(text: str) -> Plain:
    """Return a text as a reader sees it."""
    pieces: list[str] = []
    origin: list[int] = []
    ends: list[int] = []

    def add(seen: str, start: int, end: int) -> None:
        for character in seen:
            joined = ""
            if pieces and unicodedata.combining(character):
                joined = unicodedata.normalize("NFC", pieces[-1] + character)
            if len(joined) == 1:
                pieces[-1] = joined
                ends[-1] = end
            else:
                pieces.append(character)
                origin.append(start)
                ends.append(end)

    at = 0
    for match in _ODD.finditer(text):
        start, end = match.span()
        pieces.extend(text[at:start])
        origin.extend(range(at, start))
        ends.extend(range(at + 1, start + 1))
        odd = match.group()
        if odd[0] == "-":
            seen = ""
        elif len(odd) > 1:
            seen = "".join(map(_ordinary, html.unescape(odd)))
        else:
            seen = _ordinary(odd)
        add(seen, start, end)
        at = end
    pieces.extend(text[at:])
    origin.extend(range(at, len(text) + 1))
    ends.extend(range(at + 1, len(text) + 1))
    return Plain("".join(pieces), origin, ends)


class _Folding(dict[int, str]):
    """Letters without accents, worked out when first met."""

    def __missing__(self, code: int) -> str:
        character = chr(code)
        parts = unicodedata.normalize("NFD", character)
        bare = "".join(part for part in parts if not unicodedata.combining(part))
        self[code] = _LETTERS.get(bare, bare)
        return self[code]


_FOLDING = _Folding()


def folded(word: str) -> str:
    """Return a word without case and accents, umlauts and their spellings alike."""
    word = word.casefold()
    if not word.isascii():
        word = word.translate(_FOLDING)
    return _DIPHTHONGS.sub(r"\1", word)


def squeezed(text: str) -> tuple[str, list[int]]:
    """Return the letters and digits of a text alone, and where each one stood.

    Letters are folded as in ``folded``, so that "Müller & Sohn" and
    "MUELLER-SOHN" differ in the signs alone.
    """
    kept: list[str] = []
    places: list[int] = []
    for match in _WORD.finditer(text):
        before = ""
        for place, character in enumerate(match.group().casefold(), match.start()):
            seen = character if character.isascii() else character.translate(_FOLDING)
            for letter in seen:
                if not (letter == "e" and before in _BEFORE_E):
                    kept.append(letter)
                    places.append(place)
                before = letter
    return "".join(kept), places
