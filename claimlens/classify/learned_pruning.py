"""Take names out of the learned model that only erased texts had."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

import numpy as np

from claimlens.classify.learned import Learned
from claimlens.classify.learned_features import Vocabulary, cues_of, grams_of

__all__ = ["without_words"]


def _names(text: str) -> tuple[set[str], set[str]]:
    """Return the character n-grams, and the words and pairs, of a text."""
    grams: set[str] = set()
    words: set[str] = set()
    for own in cues_of((text,)).texts:
        for word in own:
            grams.update(grams_of(word))
        words.update(own)
        words.update(f"{a} {b}" for a, b in pairwise(own))
    return grams, words


def without_words(
    learned: Learned, erased: Iterable[str], left: Iterable[str]
) -> tuple[Learned, int]:
    """Return a model without the names that only erased texts had.

    What the other texts say weighs as before, so every answer about them stays.

    Parameters
    ----------
    learned : Learned
        As kept.
    erased : iterable of str
        Texts that went.
    left : iterable of str
        Texts that stay.

    Returns
    -------
    learned : Learned
        Not yet kept.
    count : int
        How many names went.
    """
    vocabulary = learned.vocabulary
    known_grams, known_words = set(vocabulary.grams), set(vocabulary.words)
    grams: set[str] = set()
    words: set[str] = set()
    for text in erased:
        own_grams, own_words = _names(text)
        grams |= own_grams & known_grams
        words |= own_words & known_words
    for text in left:
        if not grams and not words:
            break
        own_grams, own_words = _names(text)
        grams -= own_grams
        words -= own_words
    if not grams and not words:
        return learned, 0
    keep = np.array(
        [name not in grams for name in vocabulary.grams]
        + [name not in words for name in vocabulary.words]
        + [True] * len(vocabulary.facts)
    )
    n_weighed = len(vocabulary.grams) + len(vocabulary.words)
    made = Vocabulary(
        tuple(name for name in vocabulary.grams if name not in grams),
        tuple(name for name in vocabulary.words if name not in words),
        vocabulary.facts,
        vocabulary.rarity[keep[:n_weighed]],
    )
    heads = {
        what: replace(head, weights=head.weights[:, keep])
        for what, head in learned.heads.items()
    }
    return replace(learned, vocabulary=made, heads=heads), int((~keep).sum())
