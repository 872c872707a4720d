"""Counts of late periods, completed for the reports that are still to come."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, refuse

__all__ = ["Completed", "complete_counts"]

Floats = NDArray[np.float64]

# points of the Gauss-Hermite rule over ln G; of those beyond about 8 standard
# deviations the weight is nil
_NODES = 40
_LEAST_WEIGHT = 1e-14
_MOSTLY = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Completed:
    """Final counts expected, with limits for the count that will be seen.

    Parameters
    ----------
    count : ndarray, shape (M,)
        Observed count divided by the share reported; NaN where the share is 0.
    lower, upper : ndarray, shape (M,)
        Whole numbers: predictive limits of the final count, at least the
        observed one.
    """

    count: Floats
    lower: Floats
    upper: Floats


def complete_counts(
    observed: ArrayLike,
    share: ArrayLike,
    log_variance: ArrayLike,
    confidence: float = 0.95,
) -> Completed:
    """Complete counts of which a known share has been reported.

    The count of a period is Poisson with a Jeffreys prior, so that what is still
    to come, given the share G, is negative binomial with size observed + 1/2 and
    probability G. G itself is uncertain: ln G is normal about its estimate, cut
    off at 0. The mixture is integrated over G, so that nothing is drawn at random.

    Counts are whole: at 5 a month no whole-numbered interval holds its level
    exactly, and the usual one holds far more. These limits take in a count when
    the chance of one further out, and half the chance of itself, exceeds
    (1 - confidence) / 2; they hold the level on average. Where at least half is
    reported and it may well be that none is to come, the lower limit is the
    observed count, which can't be missed: then the upper one takes 1 - confidence.
    (With less reported the few seen claims mislead on either side, and both limits
    keep their half.)

    Parameters
    ----------
    observed : array_like, shape (M,)
        Claims seen of each period.
    share : array_like, shape (M,)
        Share reported by now, 0 to 1.
    log_variance : array_like, shape (M,)
        Variance of ln share, at least 0; ignored where the share is 0.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    Completed
        NaN where the share is 0: nothing tells how many are to come.

    Raises
    ------
    InputError
        If shapes disagree, a count or variance is negative, or a share lies
        outside 0 to 1.

    References
    ----------
    .. [1] Kalbfleisch, Lawless (1989), J. Am. Stat. Assoc. 84, 360-372.
    .. [2] Berry, Armitage (1995), Statistician 44, 417-423 (half the chance of
       the value itself).
    """
    level = confidence_of(confidence)
    seen, told = counts_of("observed", observed), counts_of("share", share)
    spread = np.asarray(log_variance, dtype=np.float64)
    if not seen.shape == told.shape == spread.shape or seen.ndim != 1:
        raise refuse(
            "observed, share and log_variance must be rows of one length",
            f"shapes {seen.shape}, {told.shape}, {spread.shape}",
        )
    if (told > 1).any():
        raise refuse("share must lie between 0 and 1", told.max())
    is_told = told > 0
    if not (spread[is_told] >= 0).all() or np.isinf(spread[is_told]).any():
        raise refuse(
            "log_variance must be finite and not negative", spread[is_told].min()
        )
    count, lower, upper = (np.full(seen.shape, np.nan) for _ in range(3))
    if is_told.any():
        n = seen[is_told]
        below = _chance_below(n, told[is_told], spread[is_told])
        tail = (1.0 - level) / 2.0
        count[is_told] = n / told[is_told]
        low = _first(lambda more: below(more) >= tail, n.shape)
        # the observed count itself can't be missed: all the chance lies above
        above = np.where((low == 0) & (told[is_told] >= _MOSTLY), 2.0 * tail, tail)
        # the last one whose upper tail is not smaller than that
        high = _first(lambda more: below(more) > 1.0 - above, n.shape) - 1.0
        lower[is_told] = n + low
        upper[is_told] = n + np.maximum(high, low)
    return Completed(count=count, lower=lower, upper=upper)


def _chance_below(
    seen: Floats, share: Floats, log_variance: Floats
) -> Callable[[Floats], Floats]:
    """Return the chance of fewer to come, and half of that very number."""
    points, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    points, weights = points[weights > _LEAST_WEIGHT], weights[weights > _LEAST_WEIGHT]
    weights = weights / weights.sum()
    with np.errstate(under="ignore"):
        shares = share[:, None] * np.exp(np.sqrt(log_variance)[:, None] * points)
    shares = np.clip(shares, 1e-300, 1.0)
    size = seen[:, None] + 0.5

    def at_most(more: Floats) -> Floats:
        # P(R <= r) of a negative binomial is a regularised incomplete beta
        chance = special.betainc(size, np.maximum(more, 0.0)[:, None] + 1.0, shares)
        return np.where(more < 0, 0.0, chance @ weights)

    return lambda more: 0.5 * (at_most(more) + at_most(more - 1.0))


def _first(
    holds: Callable[[Floats], NDArray[np.bool_]], shape: tuple[int, ...]
) -> Floats:
    """Return the smallest whole number from 0 at which a rising condition holds."""
    low, high = np.full(shape, -1.0), np.full(shape, 4.0)
    while not (enough := holds(high)).all():
        low = np.where(enough, low, high)
        high = np.where(enough, high, 2.0 * high + 1.0)
        if high.max() > 1e15:
            break
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2.0)
        enough = holds(middle)
        is_open = high - low > 1
        high = np.where(is_open & enough, middle, high)
        low = np.where(is_open & ~enough, middle, low)
    return high
