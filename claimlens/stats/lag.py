"""Lag distributions that the cut-off truncates on the right."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.errors import InputError

__all__ = ["truncated_lag"]

Floats = NDArray[np.float64]


def truncated_lag(
    lags: ArrayLike, horizons: ArrayLike, counts: ArrayLike
) -> tuple[NDArray[np.int64], Floats]:
    """Estimate a lag distribution from pairs seen only if the lag has ended.

    A unit shipped ``horizon`` days before the cut-off is seen sold only if its
    lag is at most ``horizon``; so short lags are over-represented among the seen.
    The reverse-time product limit undoes that.

    Parameters
    ----------
    lags : array_like of int, shape (n,)
        Days, at least 0 and at most the row's horizon.
    horizons : array_like of int, shape (n,)
        Longest lag that the row could have shown, days.
    counts : array_like of float, shape (n,)
        Units of each row.

    Returns
    -------
    support : ndarray of int, shape (m,)
        The distinct lags, rising; empty for no rows.
    probability : ndarray of float, shape (m,)
        Chance of each, conditional on a lag of at most the longest seen; adds
        up to 1.

    Raises
    ------
    InputError
        If shapes differ, a lag is negative or beyond its horizon, or a count is
        negative.

    References
    ----------
    .. [1] Lagakos, Barraj, De Gruttola (1988), Biometrika 75, 515-523.
    .. [2] Kalbfleisch, Lawless (1989), J. Am. Stat. Assoc. 84, 360-372.
    """
    lag = np.asarray(lags, dtype=np.int64)
    horizon = np.asarray(horizons, dtype=np.int64)
    count = np.asarray(counts, dtype=np.float64)
    if not lag.shape == horizon.shape == count.shape or lag.ndim != 1:
        raise InputError("lags, horizons and counts must be arrays of one length.")
    if lag.size and (lag.min() < 0 or np.any(lag > horizon) or count.min() < 0):
        raise InputError(
            "lags must lie between 0 and their horizon, and counts must not be "
            "negative."
        )
    if not lag.size:
        return lag, count
    longest = int(lag.max())
    ended = np.bincount(lag, weights=count, minlength=longest + 1)
    # at risk in reverse time at l: lag <= l <= horizon
    starts = np.cumsum(ended)
    left = np.bincount(
        np.minimum(horizon, longest), weights=count, minlength=longest + 1
    )
    at_risk = starts - np.concatenate(([0.0], np.cumsum(left)[:-1]))
    hazard = np.divide(ended, at_risk, out=np.zeros_like(ended), where=at_risk > 0)
    # G(l) = prod over j > l of (1 - q_j)
    survivors = np.concatenate((np.cumprod((1.0 - hazard)[:0:-1])[::-1], [1.0]))
    probability = survivors * hazard
    probability[0] = survivors[0]
    support = np.flatnonzero(probability > 0)
    return support, probability[support] / probability.sum()
