"""What the learned model sees of a claim: n-grams of its texts and a few facts.

Character n-grams inside words (2 to 5) forgive spelling, compounds and endings in
any language; words and pairs of words keep the jargon of a workshop whole. Weights
are those of Salton and Buckley (1988), Information Processing & Management 24,
513-523: logarithmic term frequency times inverse document frequency, each row of
each block scaled to length 1.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import scipy
from numpy.typing import NDArray

from claimlens.classify.languages import folded
from claimlens.classify.reading import cleaned

__all__ = ["Cues", "Vocabulary", "cues_of", "grams_of", "learn_vocabulary", "matrix"]

_WORD = re.compile(r"[^\W_]+")
_SHORTEST, _LONGEST = 2, 5
# Words beside their own n-grams: a half did best on texts of no maker.
_WORD_WORTH = 0.5
# In how many claims a name must stand to be kept, and how many names at most.
_LEAST_CLAIMS = 2
_MOST = {"c": 24_000, "w": 12_000, "f": 4_000}

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Cues:
    """One claim as the model sees it.

    Parameters
    ----------
    texts : tuple of tuple of str
        The words of each text, in order, accents folded.
    facts : tuple of (str, float)
        Names of facts and how firmly each holds, 0 to 1.
    """

    texts: tuple[tuple[str, ...], ...]
    facts: tuple[tuple[str, float], ...] = ()

    @property
    def key(self) -> str:
        """Return what is equal for claims with equal texts."""
        return "\n".join(" ".join(words) for words in self.texts if words)


def cues_of(
    texts: Iterable[str | None], facts: Iterable[tuple[str, float]] = ()
) -> Cues:
    """Return a claim as the model sees it.

    Parameters
    ----------
    texts : iterable of str or None
        Narrative, note, resolution. Quoted mail and signatures are left out.
    facts : iterable of (str, float)
        Names and values, 0 to 1.

    Returns
    -------
    Cues
        Numbers alone are read as ``#``: their size tells no component.
    """
    read = tuple(_words(text) for text in texts if text)
    return Cues(tuple(words for words in read if words), tuple(sorted(facts)))


def _words(text: str) -> tuple[str, ...]:
    found = _WORD.findall(folded(cleaned(text)))
    return tuple("#" if word.isdigit() else word for word in found)


def grams_of(word: str) -> list[str]:
    """Return the character n-grams of a word with a blank before and behind.

    Parameters
    ----------
    word : str
        One word.

    Returns
    -------
    list of str
        With repeats, shortest first; a word shorter than ``n`` counts once.
    """
    padded = f" {word} "
    length = len(padded)
    grams = []
    for n in range(_SHORTEST, _LONGEST + 1):
        if length <= n:
            grams.append(padded)
            break
        grams += [padded[at : at + n] for at in range(length - n + 1)]
    return grams


def _word_names(cues: Cues) -> list[str]:
    """Return the words and pairs of neighbouring words of a claim."""
    names: list[str] = []
    for words in cues.texts:
        names += words
        names += [f"{a} {b}" for a, b in pairwise(words)]
    return names


@dataclass(frozen=True)
class Vocabulary:
    """The names that the model weighs, and how rare each is.

    Parameters
    ----------
    grams, words, facts : tuple of str
        Names of the three blocks of columns, in this order.
    rarity : ndarray of float, shape (G + W,)
        ln((1 + n) / (1 + n with the name)) + 1 for grams and words.
    """

    grams: tuple[str, ...]
    words: tuple[str, ...]
    facts: tuple[str, ...]
    rarity: Floats

    @property
    def size(self) -> int:
        """Return the number of columns."""
        return len(self.grams) + len(self.words) + len(self.facts)

    @cached_property
    def places(self) -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
        """Return the column of each name, block by block, counted from 0."""
        grams = {name: i for i, name in enumerate(self.grams)}
        words = {name: i for i, name in enumerate(self.words)}
        return grams, words, {name: i for i, name in enumerate(self.facts)}

    @cached_property
    def _of_word(self) -> dict[str, Ints]:
        return {}

    def gram_columns(self, word: str) -> Ints:
        """Return the columns of a word's character n-grams, with repeats."""
        found = self._of_word.get(word)
        if found is None:
            places = self.places[0]
            known = [places[g] for g in grams_of(word) if g in places]
            found = np.array(known, dtype=np.int64)
            if len(self._of_word) < 200_000:
                self._of_word[word] = found
        return found


def _kept(counts: Counter[str], most: int) -> tuple[str, ...]:
    """Return the names in most claims; equals by name, so that order is total."""
    often = [(-n, name) for name, n in counts.items() if n >= _LEAST_CLAIMS]
    return tuple(sorted(name for _, name in sorted(often)[:most]))


def learn_vocabulary(claims: Sequence[Cues]) -> Vocabulary:
    """Return the names that stand in two claims or more.

    Parameters
    ----------
    claims : sequence of Cues
        The training rows; their labels have no say in it.

    Returns
    -------
    Vocabulary
        The same for any order of the rows.
    """
    grams: Counter[str] = Counter()
    words: Counter[str] = Counter()
    facts: Counter[str] = Counter()
    of_word: dict[str, list[str]] = {}
    for claim in claims:
        own: set[str] = set()
        for text in claim.texts:
            for word in text:
                if word not in of_word:
                    of_word[word] = grams_of(word)
                own.update(of_word[word])
        grams.update(own)
        words.update(set(_word_names(claim)))
        facts.update({name for name, _ in claim.facts})
    kept_grams, kept_words = _kept(grams, _MOST["c"]), _kept(words, _MOST["w"])
    seen = [grams[name] for name in kept_grams] + [words[name] for name in kept_words]
    rarity = np.log((1.0 + len(claims)) / (1.0 + np.array(seen, dtype=float))) + 1.0
    return Vocabulary(kept_grams, kept_words, _kept(facts, _MOST["f"]), rarity)


def matrix(claims: Sequence[Cues], vocabulary: Vocabulary) -> scipy.sparse.csr_matrix:
    """Return one row a claim and one column a name.

    Parameters
    ----------
    claims : sequence of Cues
        Any claims.
    vocabulary : Vocabulary
        Of the training rows.

    Returns
    -------
    scipy.sparse.csr_matrix, shape (n, F)
        The rows of the n-gram block have length 1, those of the word block a
        half, or 0 where none of their names is known; facts hold their values.
    """
    _, word_places, fact_places = vocabulary.places
    n_grams, n_words = len(vocabulary.grams), len(vocabulary.words)
    grams, words = [], []
    facts: list[tuple[int, int, float]] = []
    for row, claim in enumerate(claims):
        own = [vocabulary.gram_columns(word) for text in claim.texts for word in text]
        grams.append(np.concatenate(own) if own else np.empty(0, np.int64))
        known = [word_places[n] for n in _word_names(claim) if n in word_places]
        words.append(np.array(known, dtype=np.int64))
        facts += [
            (row, fact_places[name], value)
            for name, value in claim.facts
            if name in fact_places
        ]
    said = np.array(facts, dtype=float).reshape(-1, 3)
    return scipy.sparse.hstack(
        [
            _weighed(grams, n_grams, vocabulary.rarity[:n_grams]),
            _WORD_WORTH * _weighed(words, n_words, vocabulary.rarity[n_grams:]),
            scipy.sparse.csr_matrix(
                (said[:, 2], (said[:, 0].astype(int), said[:, 1].astype(int))),
                shape=(len(claims), len(vocabulary.facts)),
            ),
        ],
        format="csr",
    )


def _weighed(
    columns: list[Ints], width: int, rarity: Floats
) -> scipy.sparse.csr_matrix:
    """Return log frequency times rarity, each row of length 1."""
    rows = np.repeat(np.arange(len(columns)), [len(own) for own in columns])
    flat = np.concatenate(columns) if columns else np.empty(0, np.int64)
    counts = scipy.sparse.csr_matrix(
        (np.ones(len(flat)), (rows, flat)), shape=(len(columns), width)
    )
    counts.sum_duplicates()
    counts.data = 1.0 + np.log(counts.data)
    weighed = counts.multiply(rarity[np.newaxis, :]).tocsr()
    length = np.sqrt(np.asarray(weighed.multiply(weighed).sum(axis=1)).ravel())
    length[length == 0.0] = 1.0
    return scipy.sparse.diags(1.0 / length) @ weighed
