"""Names of persons: by the lists, by their capitals, by the words around them."""

from __future__ import annotations

import re
from collections.abc import Iterator

from claimlens.redact import cues
from claimlens.redact.announced import BESIDE, Announced
from claimlens.redact.kinds import Span
from claimlens.redact.plain import folded
from claimlens.redact.tokens import Token, tokens_of
from claimlens.redact.words import Words

__all__ = ["person_spans"]

_LISTED = re.compile(r"[ \t]?[,;/&+][ \t]?|[ \t]")
_WITH_DIGITS = re.compile(
    r"(?<![\w.-])([^\W\d_]?[a-zà-ÿ]{4,20})[._-]?[0-9]{1,4}(?![\w-])"
)
_SPELT = re.compile(r"(?<![^\W_])(?:[^\W\d_][ .-]){3,30}[^\W\d_](?![^\W_])")
_INITIALS = re.compile(r"(?<![\w.])(?:[A-ZÄÖÜÉ]\.[ ]?){2,4}(?![\w])")
_SIGNED_OFF = re.compile(
    r"[.!?)\n][ ]?(?:[-–—/(][ ]?)([A-Za-z]{2,3})[.)]?[ ]{0,2}$", re.MULTILINE
)
_NO_INITIALS = frozenset(
    [
        "ok",
        "dc",
        "ac",
        "led",
        "bms",
        "can",
        "usb",
        "gps",
        "lcd",
        "abs",
        "ecu",
        "pcb",
        "ntc",
        "ptc",
        "rpm",
        "soc",
        "soh",
        "io",
        "nok",
        "no",
        "ja",
        "si",
        "yes",
    ]
)


class _Reader(Announced):
    """Marks the words of one text that are names."""

    def read(self) -> None:
        """Mark all names."""
        for at, token in enumerate(self.tokens):
            if token.open and (
                self.sure(token)
                or self.odd(token)
                or self.strange(token)
                or self.homely(token)
            ):
                self.marked.add(at)
            if token.open and self._told(at, token):
                self.marked.add(at)
            if token.open and self._town(at, token):
                self.marked.add(at)
            self._cue(at, token)
        self._last_line()
        self._last_word()
        for at in sorted(self.marked):
            self._rightwards(at)
        for at in sorted(self.marked, reverse=True):
            self._leftwards(at)
        for at in sorted(self.marked):
            self._row(at)

    def _rightwards(self, at: int) -> None:
        """Go on a name to the right: further names, particles with a name."""
        for _ in range(6):
            k = at + 1
            if k >= len(self.tokens) or k in self.marked:
                return
            while (
                k - at <= 3
                and self._joined(k)
                and self.tokens[k].fold in cues.PARTICLES
            ):
                k += 1
            if k >= len(self.tokens) or not self._joined(k):
                return
            token = self.tokens[k]
            particles = k > at + 1
            listed = self.listed(token)
            if particles and token.shape == "upper" and not listed:
                return
            named = (token.capital and listed) or (
                (token.capital or listed) and self.fits(token)
            )
            # "van den Berg" is a name, though "Berg" is a word too
            two = k > at + 2 and token.shape == "title"
            if particles and not named and not two:
                return
            if not particles and not self._goes_on(at, token):
                return
            self.marked.update(range(at + 1, k + 1))
            at = k

    def _goes_on(self, at: int, token: Token) -> bool:
        """Tell whether a word directly after a name belongs to it."""
        if not token.open or not self.fits(token, trade=self.listed(token)):
            return False
        seed = self.tokens[at]
        person = self.listed(seed) or not seed.german
        if token.shape == "initial" or token.gap in ("-", "'"):
            return True
        if self.listed(token):
            return token.fold not in cues.SAID and (
                token.capital or token.fold not in self.lists.trade
            )
        if token.capital and token.gap == " " and token.shape == "title":
            return person or token.fold not in self.lists.ordinary
        return not self.lists.known(token.fold)

    def _joined(self, at: int) -> bool:
        """Tell whether a word stands beside the one before it, in one name."""
        token = self.tokens[at] if at < len(self.tokens) else None
        if token is None or BESIDE.fullmatch(token.gap) is None:
            return False
        before = self.tokens[at - 1]
        short = before.shape == "initial" or (before.capital and len(before.text) < 4)
        return "." not in token.gap or short

    def _leftwards(self, at: int) -> None:
        """Go on a name to the left: given names, initials."""
        for _ in range(4):
            if not at or at - 1 in self.marked or not self._joined(at):
                return
            token = self.tokens[at - 1]
            fold, lists = token.fold, self.lists
            initial = token.shape == "initial" and token.capital
            barred = fold in lists.small or fold in cues.GREETINGS
            if not token.open or (barred and not initial):
                return
            name = token.capital and (
                fold in lists.both
                if fold in lists.trade
                else self.listed(token) or not token.german
            )
            name = name and token.shape != "upper"
            cue = fold in cues.ROLES or fold in cues.TITLES or fold in cues.THANKS
            if (
                (cue and not initial)
                or not (initial or name)
                or "\n" in self.tokens[at].gap
            ):
                return
            at -= 1
            self.marked.add(at)

    def _row(self, at: int) -> None:
        """Mark the further names of a row: "Anna, Piet und Klein"."""
        for _ in range(4):
            k = at + 1
            if k < len(self.tokens) and self.tokens[k].fold in cues.JOINERS:
                k += 1
            if k >= len(self.tokens) or k in self.marked:
                return
            token = self.tokens[k]
            if _LISTED.fullmatch(token.gap) is None or not token.open:
                return
            if k == at + 1 and not token.gap.strip(" "):
                return
            if (
                not (token.capital and self.listed(token))
                or token.fold in self.lists.trade
            ):
                return
            self.marked.add(k)
            at = k


def person_spans(
    text: str, settled: list[tuple[int, int]], lists: Words
) -> Iterator[Span]:
    """Find the names of persons, and towns that stand alone.

    Parameters
    ----------
    text : str
        In ordinary characters.
    settled : list of (int, int)
        Pieces that are kept or were taken out.
    lists : Words
        The lists of words and names.

    Yields
    ------
    Span
        Names, each with all its parts.
    """
    tokens = tokens_of(text, settled)
    reader = _Reader(text, tokens, lists)
    reader.read()
    yield from _joined_spans(text, tokens, reader.marked, lists)
    for match in _WITH_DIGITS.finditer(text):
        letters = folded(match[1])
        heads = (letters[:cut] for cut in range(4, len(letters) - 2))
        named = letters in lists.given or any(head in lists.given for head in heads)
        if letters not in lists.trade and (named or not lists.known(letters)):
            yield Span(*match.span(), "person")
    for match in _SPELT.finditer(text):
        yield Span(*match.span(), "person")
    for match in _INITIALS.finditer(text):
        yield Span(match.start(), match.start() + len(match.group().rstrip()), "person")
    for match in _SIGNED_OFF.finditer(text):
        if match[1].lower() not in _NO_INITIALS:
            yield Span(*match.span(1), "person")


def _joined_spans(
    text: str, tokens: list[Token], marked: set[int], lists: Words
) -> Iterator[Span]:
    """Join neighbouring marked words to one piece each."""
    row: list[int] = []
    for at in [*sorted(marked), None]:
        if row and (at is None or at != row[-1] + 1 or not _glue(tokens[at].gap)):
            town = all(
                tokens[k].fold in lists.towns
                and tokens[k].fold not in lists.given
                and tokens[k].fold not in lists.rare
                for k in row
            )
            kind = "address" if town else "person"
            yield Span(tokens[row[0]].start, tokens[row[-1]].end, kind)
            row = []
        if at is not None:
            row.append(at)


def _glue(gap: str) -> bool:
    return len(gap) <= 3 and not any(c.isalnum() or c in ",;:()!?/&" for c in gap)
