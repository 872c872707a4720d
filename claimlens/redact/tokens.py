"""A text cut into words, each with its shape and its surroundings."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass
from typing import Literal

from claimlens.redact.plain import folded

__all__ = ["Shape", "Token", "tokens_of"]

Shape = Literal["lower", "title", "upper", "mixed", "initial"]
_WORD = re.compile(r"[^\W\d_]+")
_STOP = re.compile(
    r"(?:[.!?:;…\n•*\"“„(\[]|(?:^|\n|[.!?]) ?[-–—])[\s\"'“„»«(\[¿¡*•-]*$"
)
_MARKS = {
    "de": "der die das und ist nicht ich wir mit auf beim vom zum zur ein eine kein "
    "keine wurde hat sich auch nach bei im den dem des bitte seit wenn für von geht",
    "en": "the and is not was with of to it i my on in for at that when but a this has",
    "fr": "le la les et est pas je de du une avec un ne dans sur au qui des à il ce",
    "nl": "het een niet van en is op met ik de voor aan bij maar dat er te geen na",
    "es": "el la los y no de que con una se en es al por del las un lo muy ha",
}
_ENDS = ("ung", "ungen", "heit", "keit", "schaft", "bar", "lich", "isch", "iert")
_LANGUAGE: dict[str, list[str]] = {}
for _code, _words in _MARKS.items():
    for _word in map(folded, _words.split()):
        _LANGUAGE.setdefault(_word, []).append(_code)


@dataclass(slots=True)
class Token:
    """One word of a text.

    Attributes
    ----------
    start, end : int
        Its place.
    text, fold : str
        As written, and folded.
    shape : Shape
        Its capitals.
    shouted : bool
        Whether the words around it are in capitals too, so that its own tell
        nothing.
    opens : bool
        Whether it begins a sentence, so that a capital tells little.
    german : bool
        Whether its line is German, where all nouns have a capital.
    nouns : bool
        Whether its line may be German, as no small word speaks against it.
    gap : str
        What stands between it and the word before it.
    open : bool
        Whether it may be judged: not part of what is kept or was taken out, nor
        of a number.
    """

    start: int
    end: int
    text: str
    fold: str
    shape: Shape
    shouted: bool
    opens: bool
    german: bool
    nouns: bool
    gap: str
    open: bool

    @property
    def capital(self) -> bool:
        """Whether a capital sets it off from the words around it."""
        return self.shape not in ("lower",) and not self.shouted


def _shape(word: str) -> Shape:
    if word.islower():
        return "lower"
    if len(word) == 1:
        return "initial"
    if word.isupper():
        return "upper"
    if word[0].isupper() and word[1:].islower():
        return "title"
    if word.lower() == word.upper():
        return "lower"
    return "mixed"


class _Blocks:
    """Pieces of a text that are settled already."""

    def __init__(self, spans: list[tuple[int, int]]) -> None:
        self._starts: list[int] = []
        self._ends: list[int] = []
        for start, end in sorted(spans):
            if self._ends and start <= self._ends[-1]:
                self._ends[-1] = max(end, self._ends[-1])
            else:
                self._starts.append(start)
                self._ends.append(end)

    def hold(self, start: int, end: int) -> bool:
        """Tell whether a piece touches one of them."""
        at = bisect_right(self._starts, end - 1) - 1
        return at >= 0 and self._ends[at] > start


def tokens_of(text: str, settled: list[tuple[int, int]]) -> list[Token]:
    """Cut a text into words.

    Parameters
    ----------
    text : str
        In ordinary characters.
    settled : list of (int, int)
        Pieces that are kept or were taken out: their words are not judged.

    Returns
    -------
    list of Token
        In order.
    """
    blocks = _Blocks(settled)
    found: list[Token] = []
    last = 0
    for match in _WORD.finditer(text):
        start, end = match.span()
        word = match.group()
        gap = text[last:start]
        before = text[start - 1 : start]
        after = text[end : end + 1]
        numbered = (
            (before.isdigit() or before == "_") or after.isdigit() or after == "_"
        )
        found.append(
            Token(
                start=start,
                end=end,
                text=word,
                fold=folded(word),
                shape=_shape(word),
                shouted=False,
                opens=_STOP.search(gap[-12:] if found else "\n" + gap[-12:])
                is not None,
                german=False,
                nouns=True,
                gap=gap,
                open=not numbered and not blocks.hold(start, end),
            )
        )
        last = end
    _shouting(found)
    _languages(found)
    return found


def _shouting(found: list[Token]) -> None:
    """Mark words in capitals among others in capitals."""
    loud = [t.shape == "upper" and len(t.text) > 1 for t in found]
    for at, token in enumerate(found):
        if loud[at]:
            around = [
                k for k in range(max(0, at - 3), min(len(found), at + 4)) if k != at
            ]
            longer = [k for k in around if len(found[k].text) > 1]
            if sum(loud[k] for k in longer) * 2 > len(longer):
                token.shouted = True


def _languages(found: list[Token]) -> None:
    """Mark words of German lines."""
    whole = _german(found)
    begin = 0
    for at in range(1, len(found) + 1):
        if at == len(found) or "\n" in found[at].gap or at - begin >= 60:
            line = found[begin:at]
            told = _german(line)
            told = whole if told is None else told
            for token in line:
                token.german = told is True
                token.nouns = told is not False
            begin = at


def _german(line: list[Token]) -> bool | None:
    """Tell whether small words speak for German; None where they tell nothing."""
    votes = dict.fromkeys(_MARKS, 0)
    for token in line:
        for code in _LANGUAGE.get(token.fold, ()):
            votes[code] += 1
        if "ß" in token.text or token.fold.endswith(_ENDS):
            votes["de"] += 1
    best = max(votes.values())
    return votes["de"] == best if best else None
