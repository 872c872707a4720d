"""From a text to marks: the phrases it holds, in order, with their places."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from claimlens.classify.terms import Entry, Node, Terms

__all__ = ["Mark", "Reading", "read", "spans"]

_TOKEN = re.compile(
    r"\d+(?:[.,]\d+)+|[^\W_]+(?:'[a-z]+)?|[.;!?\n,():]|(?<=\s)[-–—]+(?=\s)"
)
# Below these lines stand greetings, names and older mails, not the fault.
_TAIL = re.compile(
    r"\n\s*(?:-- ?\n|_{5,}|-{5,}|on .{5,60} wrote:|from: .{3,}|sent from my )"
    r"|\b(?:kind|best|warm|many) regards\b|\bregards,"
    r"|\byours (?:sincerely|faithfully)\b|\bsincerely,",
)
_CLOSINGS = ("regards", "sincerely", "faithfully")
_QUOTED = re.compile(r"^\s*>.*$", re.MULTILINE)


class Mark(NamedTuple):
    """A phrase found in a text; a tuple, since millions of them are made.

    Parameters
    ----------
    entry : Entry
        The phrase.
    at : int
        Place of its first word among the words that count.
    end : int
        Place after its last word among the words that count.
    first, last : int
        The tokens that it covers, for the words as written.
    """

    entry: Entry
    at: int
    end: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Reading:
    """The tokens of a text, its marks, and the marks of danger."""

    tokens: list[str]
    marks: list[Mark]
    dangers: list[Mark]
    length: int

    def words(self, mark: Mark) -> str:
        """Return the words of a mark as they were written, in lower case."""
        return " ".join(self.tokens[mark.first : mark.last + 1])


def _cleaned(text: str) -> str:
    """Return the text in lower case, without quoted mail and signature."""
    low = text.lower().replace("’", "'").replace("\r\n", "\n").replace("\r", "\n")
    if "\n>" in low or low.startswith(">"):
        low = _QUOTED.sub("", low)
    if "\n" in low or any(word in low for word in _CLOSINGS):
        tail = _TAIL.search(low)
        if tail is not None and tail.start() > 0:
            low = low[: tail.start()]
    return low


def _find(tree: Node, words: list[str], places: list[int]) -> list[Mark]:
    """Return the longest phrases of a tree, left to right, none overlapping."""
    marks = []
    count = len(words)
    at = 0
    first = tree.get
    while at < count:
        node = first(words[at])
        at += 1
        if node is None:
            continue
        start, end, best = at - 1, at, node.entry
        ahead = at
        while node and ahead < count:
            node = node.get(words[ahead])
            if node is None:
                break
            ahead += 1
            if node.entry is not None:
                best, end = node.entry, ahead
        if best is not None:
            marks.append(Mark(best, start, end, places[start], places[end - 1]))
            at = end
    return marks


def _foreign(tokens: list[str], resolved: list[str], terms: Terms) -> bool:
    """Tell whether a text is in another language than the terms.

    English terms would take the French "pas" for a sensor.
    """
    foreign = terms.language.foreign
    if foreign.isdisjoint(tokens):
        return False
    strange = sum(token in foreign for token in tokens)
    return strange > resolved.count("")


def read(text: str, terms: Terms) -> Reading:
    """Find every phrase of the terms in a text.

    Parameters
    ----------
    text : str
        Narrative, note, resolution or description.
    terms : Terms
        Compiled terms.

    Returns
    -------
    Reading
        Without marks, but with its dangers, where the text is in another
        language.
    """
    tokens = _TOKEN.findall(_cleaned(text))
    known = terms.known
    resolved = [known[t] if t in known else terms.resolve(t) for t in tokens]
    places = [place for place, word in enumerate(resolved) if word]
    words = [word for word in resolved if word]
    marks = (
        [] if _foreign(tokens, resolved, terms) else _find(terms.tree, words, places)
    )
    dangers: list[Mark] = []
    if not terms.danger.keys().isdisjoint(words):
        dangers = _find(terms.danger, words, places)
    return Reading(tokens, marks, dangers, len(words))


def spans(text: str, first: int, last: int) -> tuple[int, int]:
    """Return where tokens ``first`` to ``last`` stand in the text.

    Parameters
    ----------
    text : str
        The text that was read.
    first, last : int
        Numbers of tokens, as a mark holds them.

    Returns
    -------
    (int, int)
        Characters from the start of the text without quoted mail, the second
        one excluded.
    """
    found = list(_TOKEN.finditer(_cleaned(text)))
    return found[first].start(), found[last].end()
