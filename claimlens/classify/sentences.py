"""Texts read sentence by sentence: what was read once is not read again.

Exports repeat themselves: greetings, stock phrases, whole complaints. A sentence
is looked at once in each language, and left out where it says nothing; texts that
are left with the same sentences say the same, however else they differ.
"""

from __future__ import annotations

import re
from itertools import compress
from typing import NamedTuple, TypeVar

from claimlens.classify.chunks import Chunk
from claimlens.classify.clauses import chunks_of
from claimlens.classify.danger import dangers_in
from claimlens.classify.lexicon import Lexicon
from claimlens.classify.reading import (
    Reading,
    cleaned,
    lowered,
    may_close,
    resolved_in,
    search,
    tokens_in,
    understood,
)
from claimlens.classify.terms import Terms

__all__ = ["Extract", "Sentence", "Stretch", "extracts_of", "make_room"]

# A blank after a full stop: three letters before it, a letter or digit behind it,
# so that no number, initial or dash is cut in two.
_BORDER = re.compile(r" (?<=[^\W\d_]{3}[.!?;] )(?=[^\W_])")
_NEW_LINE = re.compile(r"(?<=\n)(?=[^\W_])")
_NUMBER = re.compile(r"\b\d+(?:[.,]\d+)*\b")
# Stands for the numbers of a sentence, so that it is met again with others.
_ANY_NUMBER = "0000000"
# Words that count, from which on a text is no heading; longer ones are alike.
_LONG = 12
# Sentences remembered at once, and those of a language; some hundred megabytes.
_SENTENCES, _STRETCHES = 60_000, 15_000
_Key = TypeVar("_Key")
_Value = TypeVar("_Value")


def make_room(memory: dict[_Key, _Value], most: int) -> None:
    """Start anew with a memory that is full.

    Parameters
    ----------
    memory : dict
        Emptied where it holds ``most`` entries.
    most : int
        How many are kept at once.
    """
    if len(memory) >= most:
        memory.clear()


class Stretch:
    """What was found in a sentence in one language, its places counted from 0.

    Attributes
    ----------
    marks, dangers : list of Mark
        Its phrases, and the dangers that it tells of and does not deny.
    count, length : int
        Its tokens, and its words that count.
    understood : int
        Its words that belong to phrases.
    is_open : bool
        Whether the dot at its end is that of an abbreviation.
    says : bool
        Whether it says anything, or tells of a danger.
    chunks : list of Chunk
        Its clauses; none where it says nothing.
    """

    __slots__ = (
        "chunks", "count", "dangers", "is_open", "length", "marks", "says",
        "understood",
    )  # fmt: skip

    def __init__(self, reading: Reading, lexicon: Lexicon, terms: Terms) -> None:
        tokens = reading.tokens
        self.marks = reading.marks
        self.dangers = dangers_in(reading)
        self.length = reading.length
        self.count = len(tokens)
        self.understood = understood(reading.marks)
        dotted = len(tokens) > 1 and tokens[-1] == "."
        self.is_open = dotted and tokens[-2] in lexicon.abbreviations
        self.chunks: list[Chunk] = chunks_of(reading, terms)
        self.says = bool(self.chunks or self.dangers)


class Sentence:
    """A sentence of texts, and what was found in it in each language.

    Attributes
    ----------
    tokens : list of str
        Its words, numbers and stops.
    points : int
        What it says of the language, as the language finder counts.
    closes : bool
        Whether a greeting may stand in it.
    is_masked : bool
        Whether its numbers differ from text to text.
    stretches : dict of str to Stretch
        What was found in it so far, by language.
    """

    __slots__ = ("closes", "is_masked", "points", "stretches", "tokens")

    def __init__(self, text: str, terms: Terms) -> None:
        self.tokens = tokens_in(text)
        self.points = terms.finder.points(self.tokens)
        self.closes = may_close(text)
        self.is_masked = _ANY_NUMBER in self.tokens
        self.stretches: dict[str, Stretch] = {}

    def read(self, lexicon: Lexicon, terms: Terms) -> Stretch:
        """Return what is found in it in one language, and keep it."""
        resolved, signature = resolved_in(self.tokens, lexicon)
        found = lexicon.stretches.get(signature)
        if found is None:
            reading = Reading(lexicon, self.tokens, search(resolved, lexicon))
            found = Stretch(reading, lexicon, terms)
            make_room(lexicon.stretches, _STRETCHES)
            lexicon.stretches[signature] = found
        self.stretches[lexicon.language.code] = found
        return found


class Extract(NamedTuple):
    """The sentences of a text that count, in one language.

    Parameters
    ----------
    lexicon : Lexicon or None
        The language; None where claimlens has no terms in it.
    stretches : tuple of Stretch
        What was found in them.
    sentences : tuple of Sentence
        The same sentences.
    texts : tuple of str
        How they were written, in lower case.
    length : int
        Words of the whole text that count, at most ``_LONG``.
    """

    lexicon: Lexicon | None
    stretches: tuple[Stretch, ...] = ()
    sentences: tuple[Sentence, ...] = ()
    texts: tuple[str, ...] = ()
    length: int = 0

    @property
    def n_tokens(self) -> int:
        """How many tokens they have."""
        return sum([stretch.count for stretch in self.stretches])

    @property
    def tokens(self) -> list[str]:
        """Their words as they were written."""
        places = range(len(self.stretches))
        return [token for place in places for token in self._tokens(place)]

    def _tokens(self, place: int) -> list[str]:
        sentence = self.sentences[place]
        return tokens_in(self.texts[place]) if sentence.is_masked else sentence.tokens

    def word(self, place: int) -> str:
        """Return the word at a place among all of them."""
        for i, stretch in enumerate(self.stretches):
            if place < stretch.count:
                return self._tokens(i)[place]
            place -= stretch.count
        raise IndexError(place)


_UNREAD = Extract(None)


def _cut(low: str) -> list[str]:
    """Cut a text at full stops that no phrase or number reaches over."""
    if "\n" in low:
        return [text for line in _NEW_LINE.split(low) for text in _BORDER.split(line)]
    return _BORDER.split(low)


def _sentence(text: str, terms: Terms) -> Sentence:
    """Return a sentence that was met before, whatever numbers stood in it."""

    def masked(number: re.Match[str]) -> str:
        return number[0] if terms.finder.knows(number[0]) else _ANY_NUMBER

    key = _NUMBER.sub(masked, text)
    known = terms.sentences.get(key)
    if known is None:
        known = Sentence(key, terms)
        make_room(terms.sentences, _SENTENCES)
        terms.sentences[key] = known
    return known


def extracts_of(text: str, terms: Terms) -> list[Extract]:
    """Find what counts in a text, as ``read`` does for the whole of it.

    Parameters
    ----------
    text : str
        Narrative, note or resolution.
    terms : Terms
        Compiled terms.

    Returns
    -------
    list of Extract
        First the one that counts, then those that tell of a danger in another
        language that the text may be in.
    """
    low = lowered(text)
    texts = _cut(low)
    known = terms.sentences
    sentences = [known.get(text) or _sentence(text, terms) for text in texts]
    if True in [sentence.closes for sentence in sentences]:
        low = cleaned(text)
        texts = _cut(low)
        sentences = [_sentence(text, terms) for text in texts]
    found = _extracted(sentences, texts, terms)
    return found or _extracted([Sentence(low, terms)], [low], terms)


def _extracted(
    sentences: list[Sentence], texts: list[str], terms: Terms
) -> list[Extract]:
    """Read sentences in their languages; empty if an abbreviation ends one."""
    codes = terms.finder.ranked(sum([sentence.points for sentence in sentences]))
    if not codes:
        codes = terms.languages_of([t for s in sentences for t in s.tokens])
    unread = not codes or codes[0] == ""
    read_in: list[tuple[Lexicon, list[Stretch]]] = []
    for code in terms.lexicons if unread else codes:
        if code:
            lexicon = terms.lexicon(code)
            stretches = [
                s.stretches.get(code) or s.read(lexicon, terms) for s in sentences
            ]
            if True in [stretch.is_open for stretch in stretches[:-1]]:
                return []
            read_in.append((lexicon, stretches))
    found = [_UNREAD]
    if not unread:
        if len(read_in) > 1:
            read_in.sort(key=_understood, reverse=True)
        lexicon, stretches = read_in.pop(0)
        length = min(sum([stretch.length for stretch in stretches]), _LONG)
        says = [stretch.says for stretch in stretches]
        found = [_picked(lexicon, (stretches, sentences, texts), says, length)]
    for lexicon, stretches in read_in:
        warns = [bool(stretch.dangers) for stretch in stretches]
        if True in warns:
            found.append(_picked(lexicon, (stretches, sentences, texts), warns, 0))
    return found


def _understood(read_in: tuple[Lexicon, list[Stretch]]) -> int:
    return sum([stretch.understood for stretch in read_in[1]])


def _picked(
    lexicon: Lexicon,
    found: tuple[list[Stretch], list[Sentence], list[str]],
    picks: list[bool],
    length: int,
) -> Extract:
    """Return the sentences that are picked."""
    stretches, sentences, texts = found
    if False in picks:
        stretches = list(compress(stretches, picks))
        sentences = list(compress(sentences, picks))
        texts = list(compress(texts, picks))
    return Extract(lexicon, tuple(stretches), tuple(sentences), tuple(texts), length)
