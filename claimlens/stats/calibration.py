"""Does a stated confidence keep its word, and what it should have said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.accuracy import Shares, weighted_shares
from claimlens.stats.checks import counts_of, finite_of, refuse

__all__ = [
    "Refit",
    "Reliability",
    "brier",
    "cross_fitted",
    "refit",
    "reliability",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """Stated confidence against the share right, bin by bin.

    Parameters
    ----------
    low, high : ndarray, shape (B,)
        Edges of bins of equal width; smallest and largest confidence in bins of
        equal count. Only bins with rows are held.
    stated : ndarray, shape (B,)
        Weighted mean confidence.
    right : Shares
        Share right, with Wilson limits.
    weight : ndarray, shape (B,)
        Share of the weight of all rows; sums to 1.
    """

    low: Floats
    high: Floats
    stated: Floats
    right: Shares
    weight: Floats

    @property
    def gaps(self) -> Floats:
        """Return the distance of the share right from the stated confidence."""
        return np.abs(self.right.value - self.stated)

    @property
    def expected_error(self) -> float:
        """Return the weighted mean gap (ECE); NaN without rows."""
        return float((self.weight * self.gaps).sum()) if self.gaps.size else np.nan

    @property
    def maximum_error(self) -> float:
        """Return the largest gap (MCE); NaN without rows."""
        return float(self.gaps.max()) if self.gaps.size else np.nan

    @property
    def error_by_chance(self) -> float:
        """Return the mean gap to expect of a confidence that keeps its word.

        The mean of |X| is s (2 / pi)^(1/2) for a normal X of mean 0 and spread s;
        a bin's share has the binomial spread of its effective rows.
        """
        if not self.gaps.size:
            return np.nan
        rows = np.maximum(self.right.n_eff, 1.0)
        spread = np.sqrt(self.stated * (1 - self.stated) / rows)
        return float((self.weight * spread).sum() * np.sqrt(2.0 / np.pi))


@dataclass(frozen=True, slots=True, kw_only=True)
class Refit:
    """A confidence refitted so that it never falls as the stated one rises.

    Parameters
    ----------
    stated : ndarray, shape (K,)
        Rising; the ends of the steps.
    refitted : ndarray, shape (K,)
        Share right there.
    """

    stated: Floats
    refitted: Floats

    def __call__(self, confidence: ArrayLike) -> Floats:
        """Return the refitted confidence, straight between the steps' ends."""
        return np.interp(
            finite_of("confidence", confidence), self.stated, self.refitted
        )


def reliability(
    confidence: ArrayLike,
    right: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    bins: int = 10,
    equal: Literal["width", "count"] = "width",
    level: float = 0.95,
    random: ArrayLike | None = None,
) -> Reliability:
    """Compare stated confidence with the share right, in bins.

    Parameters
    ----------
    confidence : array_like, shape (m,)
        Stated, 0 to 1.
    right : array_like of bool, shape (m,)
        Whether the prediction was the truth.
    weights : array_like, shape (m,), optional
        1 / chance of being drawn; equal where not given.
    bins : int, default 10
        Number of bins.
    equal : {"width", "count"}, default "width"
        Bins (a, b] of equal width, a confidence of 0 in the first; or bins of
        nearly equal numbers of rows, equal confidences never parted.
    level : float, default 0.95
        Two-sided level of the limits.
    random : array_like of bool, shape (m,), optional
        Which rows were drawn by chance, as for ``accuracy.weighted_shares``.

    Returns
    -------
    Reliability
        Expected and maximum calibration error are its properties.

    Raises
    ------
    InputError
        If a confidence lies outside 0 to 1, lengths differ, or there is no bin.

    References
    ----------
    .. [1] Naeini, Cooper, Hauskrecht (2015), Proc. AAAI 29, 2901-2907.
    .. [2] Guo, Pleiss, Sun, Weinberger (2017), Proc. ICML 34, 1321-1330.
    """
    stated, hit, weight = _checked(confidence, right, weights)
    if bins < 1:
        raise refuse("there must be at least one bin", bins)
    if equal == "width":
        edges = np.linspace(0.0, 1.0, bins + 1)
        place = np.clip(np.searchsorted(edges, stated, side="left") - 1, 0, bins - 1)
        low, high = edges[:-1], edges[1:]
    else:
        place = _equal_counts(stated, bins)
        low, high = np.full(bins, np.inf), np.full(bins, -np.inf)
        np.minimum.at(low, place, stated)
        np.maximum.at(high, place, stated)
    held = np.bincount(place, minlength=bins) > 0
    place = (np.cumsum(held) - 1)[place]
    n_bins = int(held.sum())
    total = np.bincount(place, weight, n_bins)
    return Reliability(
        low=low[held],
        high=high[held],
        stated=np.bincount(place, weight * stated, n_bins) / total,
        right=weighted_shares(hit, place, n_bins, weight, level, random=random),
        weight=total / total.sum(),
    )


def brier(
    confidence: ArrayLike, right: ArrayLike, weights: ArrayLike | None = None
) -> float:
    """Return the weighted mean squared distance of confidence and outcome.

    Parameters
    ----------
    confidence, right, weights : array_like, shape (m,)
        As for ``reliability``.

    Returns
    -------
    float
        0 to 1, 0 at best; NaN without rows.

    References
    ----------
    .. [1] Brier (1950), Mon. Weather Rev. 78, 1-3; half of his score, which adds
       the squares of both outcomes.
    """
    stated, hit, weight = _checked(confidence, right, weights)
    if not stated.size:
        return np.nan
    return float((weight * (stated - hit) ** 2).sum() / weight.sum())


def refit(
    confidence: ArrayLike, right: ArrayLike, weights: ArrayLike | None = None
) -> Refit:
    """Refit a confidence by isotonic regression (pool adjacent violators).

    Parameters
    ----------
    confidence, right, weights : array_like, shape (m,)
        As for ``reliability``; at least one row.

    Returns
    -------
    Refit
        Constant beyond the confidences seen.

    Raises
    ------
    InputError
        As for ``reliability``, or without rows.

    References
    ----------
    .. [1] Ayer, Brunk, Ewing, Reid, Silverman (1955), Ann. Math. Stat. 26, 641-647.
    .. [2] Niculescu-Mizil, Caruana (2005), Proc. ICML 22, 625-632.
    """
    stated, hit, weight = _checked(confidence, right, weights)
    if not stated.size:
        raise refuse("a confidence is refitted from at least one row", "none")
    levels, place = np.unique(stated, return_inverse=True)
    total = np.bincount(place, weight)
    shares = np.bincount(place, weight * hit) / total
    fitted = np.clip(
        scipy.optimize.isotonic_regression(shares, weights=total).x, 0.0, 1.0
    )
    # of a flat step only its two ends are needed
    step = np.diff(fitted) != 0
    kept = np.r_[True, step] | np.r_[step, True]
    return Refit(stated=levels[kept], refitted=fitted[kept])


def cross_fitted(
    confidence: ArrayLike,
    right: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    folds: ArrayLike,
) -> Floats:
    """Refit each row's confidence from the rows of the other folds.

    Parameters
    ----------
    confidence, right, weights : array_like, shape (m,)
        As for ``reliability``.
    folds : array_like of int, shape (m,)
        At least two different values.

    Returns
    -------
    ndarray, shape (m,)
        A row never sees its own outcome, so that the error of these confidences
        is that of new rows.

    Raises
    ------
    InputError
        As for ``reliability``, or if there are fewer than two folds.

    References
    ----------
    .. [1] Niculescu-Mizil, Caruana (2005), Proc. ICML 22, 625-632, section 4.
    """
    stated, hit, weight = _checked(confidence, right, weights)
    fold: Ints = np.asarray(folds)
    if fold.shape != stated.shape or np.unique(fold).size < 2:
        raise refuse("each row needs a fold, and there must be two", repr(folds)[:80])
    result = np.empty(stated.shape)
    for one in np.unique(fold):
        own = fold == one
        fitted = refit(stated[~own], hit[~own], weight[~own])
        result[own] = fitted(stated[own])
    return result


def _equal_counts(stated: Floats, bins: int) -> Ints:
    """Return the bin of each row; equal confidences share the first one's bin."""
    order = np.argsort(stated, kind="stable")
    rank = np.empty(stated.size, dtype=np.int64)
    rank[order] = np.arange(stated.size)
    _, first, same = np.unique(stated[order], return_index=True, return_inverse=True)
    place = np.empty(stated.size, dtype=np.int64)
    place[order] = first[same]
    return place * bins // max(stated.size, 1)


def _checked(
    confidence: ArrayLike, right: ArrayLike, weights: ArrayLike | None
) -> tuple[Floats, Bools, Floats]:
    stated = counts_of("confidence", confidence)
    hit = np.asarray(right, dtype=bool)
    weight = np.ones(stated.shape) if weights is None else counts_of("weights", weights)
    if stated.ndim != 1 or hit.shape != stated.shape or weight.shape != stated.shape:
        raise refuse(
            "confidence, right and weights must have the same length",
            f"shapes {stated.shape}, {hit.shape} and {weight.shape}",
        )
    if (stated > 1).any():
        raise refuse("confidence must lie between 0 and 1", stated.max())
    if (weight <= 0).any():
        raise refuse("weights must be above 0", weight.min())
    return stated, hit, weight
