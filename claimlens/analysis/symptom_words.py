"""The words of a question about a symptom, and which of them claims share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.classify.reading import read
from claimlens.classify.spelling import plain
from claimlens.classify.symptoms import Complaint, complaints_in
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError

__all__ = ["Asked", "asked_of", "narrowed", "put_asked", "put_models"]

Bools = NDArray[np.bool_]

_LONGEST_TEXT = 2_000
# each takes up to three bits of a number
_MOST_COMPLAINTS, _MOST_WORDS = 6, 4
# a free word is compared without its last letters, where it is long enough
_ENDING, _SHORTEST = 2, 4
# with fewer claims than this a word is dropped
_ENOUGH = 20


@dataclass(frozen=True, slots=True)
class Asked:
    """Words that a claim can share.

    Parameters
    ----------
    complaints : tuple of Complaint
        What the terms read in the question.
    words : tuple of str
        Beginnings of further words, plain.
    """

    complaints: tuple[Complaint, ...]
    words: tuple[str, ...]

    def keys(self) -> list[list[str]]:
        """Return the keys of each condition: three for each complaint.

        Part, failure mode, and both of one part.
        """
        found: list[list[str]] = []
        for said in self.complaints:
            both = [f"{c}/{mode}" for c in said.components for mode in said.modes]
            found += [list(said.components), list(said.modes), both]
        return found


def asked_of(text: str, terms: Terms) -> Asked:
    """Read a question about a symptom.

    Parameters
    ----------
    text : str
        A few words, in any language that the terms know.
    terms : Terms
        Compiled terms.

    Returns
    -------
    Asked
        At most six complaints and four further words.

    Raises
    ------
    InputError
        If the text is empty, is far too long, or has no word that could be looked
        for.
    """
    if len(text) > _LONGEST_TEXT:
        raise InputError(
            f"A symptom is a few words; got a text of {len(text):,} characters.",
            remedy='write what the owner sees, as in claimlens causes "display dead"',
        )
    complaints = complaints_in(text, terms)[:_MOST_COMPLAINTS]
    words = _free_words(text, terms, known=[said.words for said in complaints])
    if not complaints and not words:
        raise InputError(
            f"There is no word in {text!r} that could be looked for.",
            remedy='write what the owner sees, as in claimlens causes "display dead"',
        )
    return Asked(tuple(complaints), tuple(words))


def _free_words(text: str, terms: Terms, known: Sequence[str]) -> list[str]:
    """Return the beginnings of words that no term covers."""
    reading = read(text, terms)[0]
    covered = {
        place
        for mark in reading.marks
        for place in range(mark.tokens[0], mark.tokens[1] + 1)
    }
    small = terms.small_words
    found = []
    for place, token in enumerate(reading.tokens):
        word = plain(token)
        if place in covered or len(word) < _SHORTEST or token in small or " " in word:
            continue
        found.append(word[: max(_SHORTEST, len(word) - _ENDING)])
    return list(dict.fromkeys(found))[:_MOST_WORDS]


def put_asked(session: Session, asked: Asked) -> None:
    """Make ``asked_keys`` and ``asked_words``, numbered as their bits.

    Parameters
    ----------
    session : Session
        On the warehouse.
    asked : Asked
        The question.
    """
    keys = [(bit, key) for bit, own in enumerate(asked.keys()) for key in own]
    session.put("asked_keys", _table(keys, "key"))
    first = 3 * len(asked.complaints)
    words = [(first + i, word) for i, word in enumerate(asked.words)]
    session.put("asked_words", _table(words, "word"))


def put_models(session: Session, models: Sequence[str]) -> None:
    """Make ``asked_models``, empty where the question is about all of them.

    Parameters
    ----------
    session : Session
        On the warehouse.
    models : sequence of str
        As asked.
    """
    session.put("asked_models", pd.DataFrame({"model": list(models)}, dtype="str"))


def _table(rows: Iterable[tuple[int, str]], name: str) -> pd.DataFrame:
    frame = pd.DataFrame(list(rows), columns=["condition", name])
    return frame.astype({"condition": "int64", name: "str"})


@dataclass(slots=True)
class _Word:
    """One word of the question and the bits that meet it."""

    text: str
    bit: int
    partner: _Word | None = None
    both: int | None = None
    dropped: bool = field(default=False)


def _words_of(asked: Asked) -> list[_Word]:
    words: list[_Word] = []
    for number, said in enumerate(asked.complaints):
        part = _Word(_part_name(said), 3 * number)
        mode = _Word(" or ".join(said.modes), 3 * number + 1)
        if said.components and said.modes:
            part.partner, mode.partner = mode, part
            part.both = mode.both = 3 * number + 2
        words += [w for w, has in ((part, said.components), (mode, said.modes)) if has]
    first = 3 * len(asked.complaints)
    words += [_Word(f"{word}..", first + i) for i, word in enumerate(asked.words)]
    return words


def _part_name(said: Complaint) -> str:
    return " or ".join(said.components)


def narrowed(
    asked: Asked,
    matches: NDArray[np.int64],
    claims: NDArray[np.int64],
    established: NDArray[np.int64],
) -> tuple[Bools, list[str], list[str]]:
    """Choose the claims that share the question's words, as many as it takes.

    All words first. While fewer than 20 claims share them, the least telling word
    is dropped: the one that most claims have. A word that no claim has is dropped at
    once.

    Parameters
    ----------
    asked : Asked
        The question.
    matches : ndarray of int, shape (N,)
        The conditions that the claims of each group share, as bits.
    claims, established : ndarray of int, shape (N,)
        Claims of each group, and those of them that can tell a cause.

    Returns
    -------
    chosen : ndarray of bool, shape (N,)
        Groups whose claims share all words left.
    dropped : list of str
        Words dropped, in that order.
    unknown : list of str
        Words that no claim has.
    """
    words = _words_of(asked)
    seen = {id(w): (matches >> w.bit) & 1 == 1 for w in words}
    unknown = [w.text for w in words if not seen[id(w)].any()]
    for word in words:
        word.dropped = not seen[id(word)].any()
    dropped: list[str] = []
    while True:
        left = [word for word in words if not word.dropped]
        if not left:
            return np.zeros(matches.shape, dtype=bool), dropped, unknown
        chosen = np.ones(matches.shape, dtype=bool)
        for word in left:
            chosen &= _met(word, matches, seen[id(word)])
        if established[chosen].sum() >= _ENOUGH or len(left) == 1:
            return chosen, dropped, unknown
        common = max(left, key=lambda w: int(claims[seen[id(w)]].sum()))
        common.dropped = True
        dropped.append(common.text)


def _met(word: _Word, matches: NDArray[np.int64], own: Bools) -> Bools:
    """Tell which claims meet a word: with its partner left, both of one part."""
    if word.partner is None or word.partner.dropped or word.both is None:
        return own
    return np.asarray((matches >> word.both) & 1 == 1)
