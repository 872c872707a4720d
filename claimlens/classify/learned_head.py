"""A trained linear model: its weights, its calibration, and what it answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy.special import expit

from claimlens.classify.learned_features import Cues, Vocabulary

__all__ = ["Answer", "Calibration", "Head", "answers", "leads", "weighty_words"]

_LEAST, _MOST = 0.01, 0.99
_SHOWN = 3

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """From the lead of the best class to the probability that it is right.

    Parameters
    ----------
    kind : {"sigmoid", "isotonic"}
        Platt's logistic curve, or straight lines between knots.
    x, y : tuple of float
        Sigmoid: ``x`` is empty, ``y`` is (slope, intercept). Isotonic: leads and
        probabilities of the knots, both rising.

    References
    ----------
    .. [1] Platt (1999), in Advances in Large Margin Classifiers, 61-74.
    .. [2] Zadrozny, Elkan (2002), Proc. 8th ACM SIGKDD, 694-699.
    """

    kind: Literal["sigmoid", "isotonic"]
    x: tuple[float, ...]
    y: tuple[float, ...]

    def __call__(self, lead: Floats) -> Floats:
        """Return the probability of each lead, 0.01 to 0.99."""
        if self.kind == "sigmoid":
            slope, intercept = self.y
            found = expit(slope * lead + intercept)
        else:
            found = np.interp(lead, self.x, self.y)
        return np.asarray(np.clip(found, _LEAST, _MOST), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What answers one question: which component, or which failure mode.

    Parameters
    ----------
    classes : tuple of str, length K
        The answers, sorted.
    weights : ndarray of float32, shape (K, F)
        Log-odds that one unit of a column is worth for a class.
    bias : ndarray of float32, shape (K,)
        Log-odds of a class where nothing is known.
    calibration : Calibration
        Fitted on claims that the weights had not seen.
    threshold, least_lead : float
        Least probability that decides, and least lead.
    """

    classes: tuple[str, ...]
    weights: NDArray[np.float32]
    bias: NDArray[np.float32]
    calibration: Calibration
    threshold: float
    least_lead: float


@dataclass(frozen=True, slots=True)
class Answer:
    """What the model says of one claim.

    Parameters
    ----------
    name : str
        The likeliest class.
    probability : float
        Calibrated, 0 to 1.
    decides : bool
        Whether the probability reaches the threshold.
    words : tuple of str
        The words that spoke most for it and against the runner-up.
    """

    name: str
    probability: float
    decides: bool
    words: tuple[str, ...]


def leads(
    rows: scipy.sparse.csr_matrix,
    weights: NDArray[np.float32],
    bias: NDArray[np.float32],
) -> tuple[Ints, Ints, Floats]:
    """Return the best class, the runner-up, and how far the one is ahead.

    Parameters
    ----------
    rows : csr_matrix, shape (n, F)
        Claims.
    weights : ndarray, shape (K, F)
        Log-odds by column.
    bias : ndarray, shape (K,)
        Log-odds of nothing.

    Returns
    -------
    best, second : ndarray of int, shape (n,)
        Places among the classes; of equals the earlier one.
    lead : ndarray, shape (n,)
        Difference of their log-odds, 0 or more; not calibrated.
    """
    odds = np.asarray(rows @ weights.astype(np.float64).T) + bias.astype(np.float64)
    order = np.argsort(-odds, axis=1, kind="stable")
    best = order[:, 0]
    second = order[:, 1] if odds.shape[1] > 1 else best
    every = np.arange(len(odds))
    return best, second, odds[every, best] - odds[every, second]


def answers(
    head: Head,
    rows: scipy.sparse.csr_matrix,
    claims: Sequence[Cues],
    vocabulary: Vocabulary,
) -> list[Answer]:
    """Return what a head says of each claim.

    Parameters
    ----------
    head : Head
        The trained question.
    rows : csr_matrix, shape (n, F)
        ``matrix(claims, vocabulary)``.
    claims : sequence of Cues, length n
        The same claims, for the words.
    vocabulary : Vocabulary
        Names of the columns.

    Returns
    -------
    list of Answer
        One a claim. A claim of which no word is known is never decided.
    """
    if not claims:
        return []
    best, second, lead = leads(rows, head.weights, head.bias)
    sure = head.calibration(lead)
    n_grams = len(vocabulary.grams)
    n_text = n_grams + len(vocabulary.words)
    # scraps of words are in any text: one whole word must be known
    knows = np.diff(rows[:, n_grams:n_text].tocsr().indptr) > 0
    reaches = (sure >= head.threshold) & (lead >= head.least_lead) & knows
    found = []
    for i, claim in enumerate(claims):
        decides = bool(reaches[i])
        words: tuple[str, ...] = ()
        if decides:
            words = weighty_words(
                claim, rows[i], head.weights[best[i]] - head.weights[second[i]],
                vocabulary,
            )  # fmt: skip
        found.append(
            Answer(head.classes[best[i]], round(float(sure[i]), 3), decides, words)
        )
    return found


def weighty_words(
    claim: Cues,
    row: scipy.sparse.csr_matrix,
    lead: NDArray[np.float32],
    vocabulary: Vocabulary,
) -> tuple[str, ...]:
    """Return the words that weighed most, heaviest first.

    Parameters
    ----------
    claim : Cues
        The claim.
    row : csr_matrix, shape (1, F)
        Its row of the matrix.
    lead : ndarray, shape (F,)
        Weights of the class less those of the runner-up.
    vocabulary : Vocabulary
        Names of the columns.

    Returns
    -------
    tuple of str
        Up to three words with a weight above 0. A word is worth its own column,
        its share in its character n-grams and half of each pair it stands in.
    """
    worth = dict(
        zip(row.indices.tolist(), (row.data * lead[row.indices]).tolist(), strict=True)
    )
    n_grams = len(vocabulary.grams)
    word_places = vocabulary.places[1]
    repeats: dict[int, int] = {}
    listed = [word for text in claim.texts for word in text]
    for word in listed:
        for column in vocabulary.gram_columns(word).tolist():
            repeats[column] = repeats.get(column, 0) + 1
    total: dict[str, float] = {}
    for word in dict.fromkeys(listed):
        own = sum(
            worth.get(column, 0.0) / repeats[column]
            for column in vocabulary.gram_columns(word).tolist()
        )
        if word in word_places:
            own += worth.get(n_grams + word_places[word], 0.0)
        total[word] = own
    for text in claim.texts:
        for a, b in dict.fromkeys(pairwise(text)):
            place = word_places.get(f"{a} {b}")
            if place is not None:
                half = worth.get(n_grams + place, 0.0) / 2
                total[a] += half
                total[b] += half
    ranked = sorted(total, key=lambda word: (-total[word], word))
    return tuple(w for w in ranked[:_SHOWN] if total[w] > 0.0)
