"""How good a forecast was: its bands, its level and what it was off by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of, finite_of, refuse

__all__ = [
    "Coverage",
    "coverage",
    "interval_score",
    "mean_absolute_error",
    "mean_interval_score",
    "relative_bias",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How often bands held what was seen.

    Parameters
    ----------
    periods : int
        Bands of each series.
    below, above : ndarray, shape (...)
        Values seen below and above their band, each on an edge as half a one.
    misses : ndarray, shape (...)
        ``below`` plus ``above``.
    share : ndarray, shape (...)
        Share held, 0 to 1; NaN without a band.
    """

    periods: int
    below: Floats
    above: Floats
    misses: Floats
    share: Floats


def interval_score(
    lower: ArrayLike, upper: ArrayLike, observed: ArrayLike, confidence: float = 0.95
) -> Floats:
    """Compute the interval score; the smaller the better.

    The width of the band, plus 2 / (1 - confidence) times how far the value lies
    outside. In expectation no band scores better than the true quantiles.

    Parameters
    ----------
    lower, upper : array_like
        The bands; they broadcast with ``observed``.
    observed : array_like
        What came, in the unit of the bands.
    confidence : float, default 0.95
        Level that the bands promise, strictly between 0 and 1.

    Returns
    -------
    ndarray
        In the unit of the bands, at least 0.

    Raises
    ------
    InputError
        If shapes don't fit, a value is not finite or a band is upside down.

    References
    ----------
    .. [1] Gneiting, Raftery (2007), J. Am. Stat. Assoc. 102, 359-378, eq. 43
       (section 6.2).
    """
    alpha = 1.0 - confidence_of(confidence)
    low, high, seen = _bands(lower, upper, observed)
    outside = np.maximum(low - seen, 0.0) + np.maximum(seen - high, 0.0)
    return np.asarray((high - low) + 2.0 / alpha * outside)


def mean_interval_score(
    lower: ArrayLike, upper: ArrayLike, observed: ArrayLike, confidence: float = 0.95
) -> Floats:
    """Compute the mean interval score of each series.

    Parameters
    ----------
    lower, upper, observed : array_like, shape (..., T)
        Bands and what came, periods last.
    confidence : float, default 0.95
        Level that the bands promise, strictly between 0 and 1.

    Returns
    -------
    ndarray, shape (...)
        NaN without a period.

    Raises
    ------
    InputError
        As `interval_score`.
    """
    return _mean(interval_score(lower, upper, observed, confidence))


def coverage(
    lower: ArrayLike, upper: ArrayLike, observed: ArrayLike, *, least: float = 0.0
) -> Coverage:
    """Count how often bands held what was seen.

    Limits of counts are whole, so no band of counts holds its level exactly, and
    one with its edges holds far more. A count on an edge is therefore half in,
    half out: on average over bands that is what the level promises. Nothing lies
    below the least possible value: a lower edge there can't be missed, and a
    value on it is held.

    Parameters
    ----------
    lower, upper, observed : array_like, shape (..., T)
        Bands and what came, periods last. Where a band is a single value and it
        came, half of it is missed above, unless it is ``least``.
    least : float, default 0
        Least possible value; ``-inf`` where there is none.

    Returns
    -------
    Coverage
        One value a series.

    Raises
    ------
    InputError
        As `interval_score`.

    References
    ----------
    .. [1] Berry, Armitage (1995), Statistician 44, 417-423 (half the chance of
       the value itself).
    """
    low, high, seen = _bands(lower, upper, observed)
    is_point = low == high
    on_lower = (seen == low) & (low > least) & ~is_point
    on_upper = (seen == high) & ~(is_point & (low <= least))
    below = ((seen < low) + 0.5 * on_lower).sum(axis=-1)
    above = ((seen > high) + 0.5 * on_upper).sum(axis=-1)
    periods = seen.shape[-1]
    misses = np.asarray(below + above)
    share = 1.0 - misses / periods if periods else np.full(misses.shape, np.nan)
    return Coverage(
        periods=periods,
        below=np.asarray(below),
        above=np.asarray(above),
        misses=misses,
        share=np.asarray(share),
    )


def relative_bias(forecast: ArrayLike, observed: ArrayLike) -> Floats:
    """Compute by how much forecasts were too high, as a share of what came.

    Parameters
    ----------
    forecast, observed : array_like, shape (..., T)
        Periods last.

    Returns
    -------
    ndarray, shape (...)
        Sum of forecasts over the sum of what came, less 1; NaN where nothing came
        in all.

    Raises
    ------
    InputError
        If shapes don't fit or a value is not finite.
    """
    told, seen = _pairs(forecast, observed)
    came = np.asarray(seen.sum(axis=-1))
    off = np.asarray((told - seen).sum(axis=-1))
    bias = np.divide(off, came, out=np.full(came.shape, np.nan), where=came != 0)
    return np.asarray(bias)


def mean_absolute_error(forecast: ArrayLike, observed: ArrayLike) -> Floats:
    """Compute by how much forecasts were off on average.

    Parameters
    ----------
    forecast, observed : array_like, shape (..., T)
        Periods last.

    Returns
    -------
    ndarray, shape (...)
        In the unit of the forecasts; NaN without a period.

    Raises
    ------
    InputError
        As `relative_bias`.
    """
    told, seen = _pairs(forecast, observed)
    return _mean(np.abs(told - seen))


def _mean(values: Floats) -> Floats:
    if values.shape[-1] == 0:
        return np.full(values.shape[:-1], np.nan)
    return np.asarray(values.mean(axis=-1))


def _pairs(forecast: ArrayLike, observed: ArrayLike) -> tuple[Floats, Floats]:
    told, seen = finite_of("forecast", forecast), finite_of("observed", observed)
    if told.shape != seen.shape or told.ndim == 0:
        raise refuse(
            "forecast and observed must have the same shape (..., T)",
            f"shapes {told.shape} and {seen.shape}",
        )
    return told, seen


def _bands(
    lower: ArrayLike, upper: ArrayLike, observed: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    low, high = finite_of("lower", lower), finite_of("upper", upper)
    seen = finite_of("observed", observed)
    try:
        low, high, seen = np.broadcast_arrays(low, high, np.atleast_1d(seen))
    except ValueError:
        raise refuse(
            "lower, upper and observed must have one shape",
            f"shapes {low.shape}, {high.shape}, {seen.shape}",
        ) from None
    if (low > high).any():
        raise refuse("lower must not lie above upper", low[low > high].flat[0])
    return low, high, seen
