"""Intervals for shares, rates, and their differences and ratios."""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, refuse
from claimlens.stats.mid_p import binomial_mid_p, poisson_mid_p
from claimlens.stats.paired_counts import rates_of, shares_of
from claimlens.stats.tails import odds_lower, rate_limits, share_limits

__all__ = [
    "binomial_mid_p",
    "clopper_pearson",
    "newcombe_difference",
    "poisson_exact",
    "poisson_mid_p",
    "rate_ratio_exact",
    "wilson",
]

Floats = NDArray[np.float64]
# Each function has two signatures for the type checker: scalars in, scalars out.


@overload
def wilson(
    successes: float, trials: float, confidence: float = ..., *, continuity: bool = ...
) -> tuple[float, float]: ...
@overload
def wilson(
    successes: ArrayLike,
    trials: ArrayLike,
    confidence: float = ...,
    *,
    continuity: bool = ...,
) -> tuple[Floats, Floats]: ...
def wilson(
    successes: ArrayLike,
    trials: ArrayLike,
    confidence: float = 0.95,
    *,
    continuity: bool = False,
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the Wilson score interval of a share.

    Parameters
    ----------
    successes : array_like
        Units with the event; need not be whole (an effective size times a
        share is allowed).
    trials : array_like
        Units observed, at least ``successes``; need not be whole.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    continuity : bool, default False
        Widen by half an event on either side (Newcombe's method 4).

    Returns
    -------
    lower : float or ndarray
        Dimensionless; exactly 0 where nothing happened or ``trials`` is 0.
    upper : float or ndarray
        Exactly 1 where everything did or ``trials`` is 0.

    Raises
    ------
    InputError
        If a count is negative, not finite, or exceeds its trials.

    References
    ----------
    .. [1] Wilson (1927), J. Am. Stat. Assoc. 22, 209-212.
    .. [2] Newcombe (1998), Stat. Med. 17, 857-872, methods 3 and 4.
    """
    x, n = shares_of("successes", successes, "trials", trials)
    z = _z(confidence)
    shift = 0.5 if continuity else 0.0
    lower = _wilson_lower(np.maximum(x - shift, 0.0), n, z)
    upper = _wilson_upper(np.minimum(x + shift, n), n, z)
    return lower[()], upper[()]


@overload
def clopper_pearson(
    successes: float, trials: float, confidence: float = ...
) -> tuple[float, float]: ...
@overload
def clopper_pearson(
    successes: ArrayLike, trials: ArrayLike, confidence: float = ...
) -> tuple[Floats, Floats]: ...
def clopper_pearson(
    successes: ArrayLike, trials: ArrayLike, confidence: float = 0.95
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the conservative binomial interval of a share.

    Parameters
    ----------
    successes, trials : array_like
        Events and units observed; 0 trials give (0, 1).
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    lower : float or ndarray
        Dimensionless; 0 where nothing happened.
    upper : float or ndarray
        Dimensionless; 1 where everything did.

    Raises
    ------
    InputError
        If a count is negative, not finite, or exceeds its trials.

    References
    ----------
    .. [1] Clopper, Pearson (1934), Biometrika 26, 404-413.
    """
    x, n = shares_of("successes", successes, "trials", trials)
    tail = (1.0 - confidence_of(confidence)) / 2.0
    lower, upper = share_limits(x, n, tail, mid_p=False)
    return lower[()], upper[()]


@overload
def newcombe_difference(
    x1: float, n1: float, x2: float, n2: float, confidence: float = ...
) -> tuple[float, float]: ...
@overload
def newcombe_difference(
    x1: ArrayLike, n1: ArrayLike, x2: ArrayLike, n2: ArrayLike, confidence: float = ...
) -> tuple[Floats, Floats]: ...
def newcombe_difference(
    x1: ArrayLike,
    n1: ArrayLike,
    x2: ArrayLike,
    n2: ArrayLike,
    confidence: float = 0.95,
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the interval of share 1 minus share 2 from Wilson limits.

    Parameters
    ----------
    x1, n1, x2, n2 : array_like
        Events and units of the two groups.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    lower : float or ndarray
        At least -1, which it is where a group holds no unit.
    upper : float or ndarray
        At most 1, which it is where a group holds no unit.

    Raises
    ------
    InputError
        If a count is negative, not finite, or exceeds its trials.

    References
    ----------
    .. [1] Newcombe (1998), Stat. Med. 17, 873-890, method 10.
    """
    a, m = shares_of("x1", x1, "n1", n1)
    b, n = shares_of("x2", x2, "n2", n2)
    a, m, b, n = _together(a, m, b, n)
    lower1, upper1 = wilson(a, m, confidence)
    lower2, upper2 = wilson(b, n, confidence)
    known = (m > 0) & (n > 0)
    p1 = np.divide(a, m, out=np.zeros(a.shape), where=known)
    p2 = np.divide(b, n, out=np.zeros(b.shape), where=known)
    difference = p1 - p2
    lower = difference - np.hypot(p1 - lower1, upper2 - p2)
    upper = difference + np.hypot(upper1 - p1, p2 - lower2)
    lower = np.where(known, np.clip(lower, -1.0, 1.0), -1.0)
    upper = np.where(known, np.clip(upper, -1.0, 1.0), 1.0)
    return lower[()], upper[()]


@overload
def poisson_exact(
    events: float, exposure: float = ..., confidence: float = ...
) -> tuple[float, float]: ...
@overload
def poisson_exact(
    events: ArrayLike, exposure: ArrayLike = ..., confidence: float = ...
) -> tuple[Floats, Floats]: ...
def poisson_exact(
    events: ArrayLike, exposure: ArrayLike = 1.0, confidence: float = 0.95
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the exact interval of a rate of events.

    Parameters
    ----------
    events : array_like
        Events counted; sums of weights are allowed.
    exposure : array_like, default 1.0
        Units of time under observation, or an expected count.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    lower : float or ndarray
        Events per unit of exposure; exactly 0 without events.
    upper : float or ndarray
        Events per unit of exposure; inf where the exposure is 0, which says
        that nothing is known.

    Raises
    ------
    InputError
        If a value is negative or not finite, or there are events without
        exposure.

    References
    ----------
    .. [1] Garwood (1936), Biometrika 28, 437-442.
    """
    x, t = rates_of("events", events, "exposure", exposure)
    tail = (1.0 - confidence_of(confidence)) / 2.0
    lower, upper = rate_limits(x, t, tail, mid_p=False)
    return lower[()], upper[()]


@overload
def rate_ratio_exact(
    x1: float,
    t1: float,
    x2: float,
    t2: float,
    confidence: float = ...,
    *,
    mid_p: bool = ...,
) -> tuple[float, float]: ...
@overload
def rate_ratio_exact(
    x1: ArrayLike,
    t1: ArrayLike,
    x2: ArrayLike,
    t2: ArrayLike,
    confidence: float = ...,
    *,
    mid_p: bool = ...,
) -> tuple[Floats, Floats]: ...
def rate_ratio_exact(
    x1: ArrayLike,
    t1: ArrayLike,
    x2: ArrayLike,
    t2: ArrayLike,
    confidence: float = 0.95,
    *,
    mid_p: bool = False,
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the exact interval of rate 1 over rate 2.

    Given the total count, the events of group 1 are binomial; the limits of
    that share (Clopper-Pearson, or mid-p) carry over to the ratio.

    Parameters
    ----------
    x1, x2 : array_like
        Events.
    t1, t2 : array_like
        Exposures, in one unit.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    mid_p : bool, default False
        Count half the chance of exactly what was seen: the level is then met on
        average instead of always, and the interval is shorter.

    Returns
    -------
    lower : float or ndarray
        Dimensionless; 0 where ``x1`` or an exposure is 0.
    upper : float or ndarray
        Dimensionless; inf where ``x2`` or an exposure is 0.

    Raises
    ------
    InputError
        If a value is negative or not finite, or there are events without
        exposure.

    References
    ----------
    .. [1] Przyborowski, Wilenski (1940), Biometrika 31, 313-323.
    .. [2] Berry, Armitage (1995), Statistician 44, 417-423 (mid-p).
    """
    a, s = rates_of("x1", x1, "t1", t1)
    b, t = rates_of("x2", x2, "t2", t2)
    a, s, b, t = _together(a, s, b, t)
    tail = (1.0 - confidence_of(confidence)) / 2.0
    known = (s > 0) & (t > 0)
    scale = np.divide(t, s, out=np.ones(a.shape), where=known)
    lower = np.where(known, odds_lower(a, b, tail, mid_p=mid_p) * scale, 0.0)
    inverse = np.where(known, odds_lower(b, a, tail, mid_p=mid_p) / scale, 0.0)
    with np.errstate(over="ignore"):
        upper = np.divide(1.0, inverse, out=np.full(a.shape, np.inf), where=inverse > 0)
    return lower[()], upper[()]


def _z(confidence: float) -> float:
    """Return the normal quantile of a two-sided level."""
    return float(special.ndtri(0.5 + confidence_of(confidence) / 2.0))


def _together(*arrays: Floats) -> list[Floats]:
    """Return the two groups' arrays in one shape."""
    try:
        return list(np.broadcast_arrays(*arrays))
    except ValueError:
        raise refuse(
            "the two groups must have shapes that match",
            f"{arrays[0].shape} and {arrays[2].shape}",
        ) from None


def _wilson_lower(x: Floats, n: Floats, z: float) -> Floats:
    """Return the lower score limit; assumes 0 <= x <= n.

    The limits are the roots of a quadratic. The smaller one is taken from the
    product of the roots, so that it keeps its digits when it is near 0.
    """
    square = z * z
    p = np.divide(x, n, out=np.zeros(x.shape), where=n > 0)
    upper_root = 2.0 * x + square + z * np.sqrt(square + 4.0 * x * (1.0 - p))
    return np.asarray(2.0 * x * p / upper_root)


def _wilson_upper(x: Floats, n: Floats, z: float) -> Floats:
    """Return the upper score limit; assumes 0 <= x <= n."""
    square = z * z
    p = np.divide(x, n, out=np.zeros(x.shape), where=n > 0)
    root = 2.0 * x + square + z * np.sqrt(square + 4.0 * x * (1.0 - p))
    # at the end the limit is 1 by algebra; rounding must not miss it
    return np.where(x < n, np.minimum(root / (2.0 * (n + square)), 1.0), 1.0)
