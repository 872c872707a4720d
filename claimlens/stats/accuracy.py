"""How often a classification is right, from rows that a person looked at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.intervals import wilson

__all__ = [
    "LEAST_EFFECTIVE",
    "ClassScores",
    "Shares",
    "class_scores",
    "confusion",
    "effective_size",
    "weighted_shares",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Below this effective number of rows a share is not called measured (a rule of ours).
LEAST_EFFECTIVE = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Weighted shares of several groups with Wilson limits on the effective size.

    Parameters
    ----------
    value, lower, upper : ndarray, shape (G,)
        Shares, 0 to 1; ``value`` is NaN for a group without rows, whose limits
        are 0 and 1.
    n : ndarray of int, shape (G,)
        Rows.
    n_eff : ndarray, shape (G,)
        (sum of weights)^2 / sum of squared weights of the rows drawn by chance;
        equals ``n`` where all were and have equal weights.
    """

    value: Floats
    lower: Floats
    upper: Floats
    n: Ints
    n_eff: Floats

    @property
    def is_measured(self) -> Bools:
        """Tell which groups have rows enough to be named a measurement."""
        # equal weights must not miss the limit by rounding
        return np.asarray(self.n_eff >= LEAST_EFFECTIVE * (1 - 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassScores:
    """Precision, recall and F1 by class, and their averages.

    Parameters
    ----------
    precision, recall, f1 : Shares
        Groups are the classes.
    macro_precision, macro_recall, macro_f1 : float
        Plain means over the classes that occur, as truth or as prediction; a
        share without a row counts as 0 there. NaN where no class occurs.
    micro_precision, micro_recall, micro_f1 : float
        Of all rows with a class together. NaN where there is none.
    accuracy : float
        Weighted share of rows whose prediction is the truth; NaN without rows.
    """

    precision: Shares
    recall: Shares
    f1: Shares
    macro_precision: float
    macro_recall: float
    macro_f1: float
    micro_precision: float
    micro_recall: float
    micro_f1: float
    accuracy: float


def effective_size(weights: ArrayLike) -> float:
    """Return how many equally weighted rows would tell as much.

    Parameters
    ----------
    weights : array_like, shape (m,)
        Not negative.

    Returns
    -------
    float
        (sum w)^2 / sum w^2; 0 where no weight is above 0.

    Raises
    ------
    InputError
        If a weight is negative or not finite.

    References
    ----------
    .. [1] Kish (1965), Survey Sampling, section 8.2.
    """
    weight = counts_of("weights", weights)
    squares = float((weight * weight).sum())
    return float(weight.sum()) ** 2 / squares if squares > 0 else 0.0


def weighted_shares(
    successes: ArrayLike,
    groups: ArrayLike,
    n_groups: int,
    weights: ArrayLike | None = None,
    confidence: float = 0.95,
    *,
    random: ArrayLike | None = None,
) -> Shares:
    """Estimate the share of successes in each group of weighted rows.

    Parameters
    ----------
    successes : array_like of bool, shape (m,)
        What is counted.
    groups : array_like of int, shape (m,)
        Code of each row's group from 0 on; rows below 0 belong to none.
    n_groups : int
        Number of groups G.
    weights : array_like, shape (m,), optional
        1 / chance of being drawn; equal where not given.
    confidence : float, default 0.95
        Two-sided level.
    random : array_like of bool, shape (m,), optional
        Which rows were drawn by chance; by default all. The others, picked for what
        they are, count with their weight, but however many they are they tell
        nothing of rows that were not picked: they add nothing to ``n_eff``.

    Returns
    -------
    Shares
        Hajek estimates; the limits take the effective number of rows for the
        number of trials.

    Raises
    ------
    InputError
        If lengths differ, a code is too high or a weight is not above 0.

    References
    ----------
    .. [1] Wilson (1927), J. Am. Stat. Assoc. 22, 209-212.
    .. [2] Kish (1965), Survey Sampling, section 8.2.
    """
    group = _codes("groups", groups, n_groups)
    right = np.asarray(successes, dtype=bool)
    weight = _weights(weights, group.size)
    drawn = np.ones(group.shape, bool) if random is None else np.asarray(random, bool)
    if right.shape != group.shape or drawn.shape != group.shape:
        raise refuse(
            "successes, groups and random must have the same length",
            f"shapes {right.shape}, {group.shape} and {drawn.shape}",
        )
    inside = group >= 0
    group, right, weight = group[inside], right[inside], weight[inside]
    n = np.bincount(group, minlength=n_groups)
    total = np.bincount(group, weight, n_groups)
    hits = np.bincount(group, weight * right, n_groups)
    some = n > 0
    n_eff = _effective(group, weight * drawn[inside], n_groups)
    # sums in another order may pass the whole by a rounding error
    value = np.divide(hits, total, out=np.full(n_groups, np.nan), where=some)
    value = np.minimum(value, 1.0)
    lower, upper = wilson(np.where(some, value, 0.0) * n_eff, n_eff, confidence)
    return Shares(value=value, lower=lower, upper=upper, n=n, n_eff=n_eff)


def confusion(
    true: ArrayLike,
    predicted: ArrayLike,
    n_classes: int,
    weights: ArrayLike | None = None,
) -> Floats:
    """Count truth against prediction.

    Parameters
    ----------
    true, predicted : array_like of int, shape (m,)
        Codes of classes from 0 on; below 0 for none.
    n_classes : int
        Number of classes C.
    weights : array_like, shape (m,), optional
        1 / chance of being drawn.

    Returns
    -------
    ndarray, shape (C + 1, C + 1)
        Sum of weights; a row for each truth and a column for each prediction,
        the last ones for none.
    """
    rows = _codes("true", true, n_classes)
    columns = _codes("predicted", predicted, n_classes)
    weight = _weights(weights, rows.size)
    side = n_classes + 1
    cells = (rows % side) * side + columns % side  # -1 becomes the last one
    table = np.bincount(cells, weight, side * side).reshape(side, side)
    return np.asarray(table, dtype=np.float64)


def class_scores(
    true: ArrayLike,
    predicted: ArrayLike,
    n_classes: int,
    weights: ArrayLike | None = None,
    confidence: float = 0.95,
    *,
    random: ArrayLike | None = None,
) -> ClassScores:
    """Score a classification class by class.

    Parameters
    ----------
    true, predicted : array_like of int, shape (m,)
        Codes of classes from 0 on; below 0 for none, such as a row that was left
        unclassified. None is no class of its own: it has no precision, and is a
        miss of the class that the row truly has.
    n_classes : int
        Number of classes C.
    weights : array_like, shape (m,), optional
        1 / chance of being drawn; equal where not given.
    confidence : float, default 0.95
        Two-sided level.
    random : array_like of bool, shape (m,), optional
        Which rows were drawn by chance, as for ``weighted_shares``.

    Returns
    -------
    ClassScores
        F1 = 2 J / (1 + J), J the share of rows both predicted and truly of a
        class among those that are either; its limits are those of J carried
        over, since F1 rises with J.

    Raises
    ------
    InputError
        If lengths differ, a code is too high or a weight is not above 0.

    References
    ----------
    .. [1] van Rijsbergen (1979), Information Retrieval, 2nd ed., ch. 7.
    .. [2] Sokolova, Lapalme (2009), Inf. Process. Manag. 45, 427-437, table 3.
    """
    truth = _codes("true", true, n_classes)
    told = _codes("predicted", predicted, n_classes)
    weight = _weights(weights, truth.size)
    if truth.shape != told.shape:
        raise refuse(
            "true and predicted must have the same length",
            f"shapes {truth.shape} and {told.shape}",
        )
    right = truth == told
    drawn = np.ones(truth.shape, bool) if random is None else np.asarray(random, bool)
    precision, recall = (
        weighted_shares(right, side, n_classes, weight, confidence, random=drawn)
        for side in (told, truth)
    )
    # each row counts once in its truth and, where that differs, in its prediction
    missed = ~right
    either = weighted_shares(
        np.concatenate([right, right[missed]]),
        np.concatenate([truth, told[missed]]),
        n_classes,
        np.concatenate([weight, weight[missed]]),
        confidence,
        random=np.concatenate([drawn, drawn[missed]]),
    )
    f1 = Shares(
        value=_f1_of(either.value),
        lower=_f1_of(either.lower),
        upper=_f1_of(either.upper),
        n=either.n,
        n_eff=either.n_eff,
    )
    occurs = either.n > 0
    hits = float((weight * right)[truth >= 0].sum())
    named, meant = float(weight[told >= 0].sum()), float(weight[truth >= 0].sum())
    return ClassScores(
        precision=precision,
        recall=recall,
        f1=f1,
        macro_precision=_macro(precision.value, occurs),
        macro_recall=_macro(recall.value, occurs),
        macro_f1=_macro(f1.value, occurs),
        micro_precision=hits / named if named else np.nan,
        micro_recall=hits / meant if meant else np.nan,
        micro_f1=2 * hits / (named + meant) if named + meant else np.nan,
        accuracy=float((weight * right).sum() / weight.sum()) if right.size else np.nan,
    )


def _effective(group: Ints, weight: Floats, n_groups: int) -> Floats:
    """Return the effective number of rows of each group; 0 where no weight is."""
    total = np.bincount(group, weight, n_groups)
    squares = np.bincount(group, weight * weight, n_groups)
    n_eff = np.zeros(n_groups)
    np.divide(total * total, squares, out=n_eff, where=squares > 0)
    return n_eff


def _f1_of(overlap: Floats) -> Floats:
    """Return F1 of the overlap J; rising, so limits may pass through it."""
    return 2.0 * overlap / (1.0 + overlap)


def _macro(values: Floats, occurs: Bools) -> float:
    return float(np.nan_to_num(values[occurs]).mean()) if occurs.any() else np.nan


def _codes(name: str, values: ArrayLike, n_codes: int) -> Ints:
    codes = np.asarray(values)
    if codes.ndim != 1 or (codes.size and codes.dtype.kind not in "iu"):
        raise refuse(f"{name} must be one row of whole codes", repr(values)[:80])
    if codes.size and codes.max() >= n_codes:
        raise refuse(f"{name} must lie below {n_codes}", codes.max())
    return np.maximum(codes.astype(np.int64), -1)


def _weights(weights: ArrayLike | None, size: int) -> Floats:
    if weights is None:
        return np.ones(size)
    weight = counts_of("weights", weights)
    if weight.shape != (size,) or (weight <= 0).any():
        raise refuse("weights must be above 0, one a row", repr(weights)[:80])
    return weight
