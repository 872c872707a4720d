"""Limits at which a tail of the binomial or Poisson distribution has a given weight.

The lower limit is the value at which the chance of what was seen, or more, is
``tail``. Its mid-p form counts half the chance of exactly what was seen. Both go
through the incomplete beta and gamma functions, and so hold for counts that are sums
of weights too. They are solved here rather than taken from scipy's inverse functions:
those of scipy 1.17 are wrong at single values (betaincinv(1000, 1e9, 0.025) is twice
what it should be), and there is none for mid-p.

Private to the room: the functions assume checked counts and a tail below 0.5.

References
----------
.. [1] Lancaster (1961), J. Am. Stat. Assoc. 56, 223-234 (mid-p).
.. [2] Berry, Armitage (1995), Statistician 44, 417-423.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["odds_lower", "rate_limits", "share_limits", "solve"]

Floats = NDArray[np.float64]
Curve = Callable[[Floats], tuple[Floats, Floats]]

# logarithms of the smallest and largest limits that are told from 0 and infinity
_FAR = 690.0
_SEEN = 1e-300
# from here on differences of logarithms of gamma functions are rounding alone
_MANY = 1e12


def solve(function: Curve, start: Floats, width: Floats) -> Floats:
    """Find where a rising function is 0, for each element, by guarded Newton steps.

    Parameters
    ----------
    function : callable
        From points, shape (n,), to values and slopes, shape (n,). A slope of 0
        stands for one that is not known.
    start, width : ndarray, shape (n,)
        Where to look first, and how far around; the stretch is widened until it
        holds the root, or ends at +-690.

    Returns
    -------
    ndarray, shape (n,)
        Within a few units in the last place of the points.
    """
    low, high = _bracket(function, start, width)
    point = np.clip(start, low, high)
    # a step that leaves the bracket is a halving instead; 120 of them are more than
    # a float can hold
    for _ in range(120):
        value, slope = function(point)
        low = np.where(value <= 0, point, low)
        high = np.where(value >= 0, point, high)
        middle = 0.5 * (low + high)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = value / slope
            newton = point - step
        # the error after a step of Newton is of the order of its square; at the end
        # rounding may carry it onto the bracket, which is no reason to go back
        size = np.maximum(np.abs(point), 1.0)
        near = np.abs(step) <= 1e-9 * size
        inside = (newton > low) & (newton < high)
        point = np.where(near | inside, np.clip(newton, low, high), middle)
        if (near | (high - low <= 4e-16 * size)).all():
            break
    return point


def _bracket(function: Curve, start: Floats, width: Floats) -> tuple[Floats, Floats]:
    """Return points below and above the root."""
    ends = []
    for side in (-1.0, 1.0):
        reach = width.copy()
        for _ in range(60):
            end = np.clip(start + side * reach, -_FAR, _FAR)
            short = (side * function(end)[0] < 0) & (np.abs(end) < _FAR)
            if not short.any():
                break
            reach = np.where(short, 2.0 * reach, reach)
        ends.append(end)
    return ends[0], ends[1]


def odds_lower(x: Floats, y: Floats, tail: float, *, mid_p: bool) -> Floats:
    """Return the lower limit of the odds of ``x`` events against ``y``.

    Parameters
    ----------
    x, y : ndarray
        Events of two kinds, in one shape.
    tail : float
        Weight of one tail, above 0 and below 0.5.
    mid_p : bool
        Count half the chance of exactly what was seen.

    Returns
    -------
    ndarray
        Odds from 0; 0 where ``x`` is 0. The share is odds / (1 + odds), and the
        upper limit of the odds one over the lower limit with the kinds swapped:
        so no limit loses digits near 0 or 1.
    """
    result = np.zeros(x.shape)
    every = (x > _SEEN) & (y <= _SEEN)
    # everything happened: share**x, or half of it, is the tail
    log_share = np.log((2.0 if mid_p else 1.0) * tail) / x[every]
    log_share = np.maximum(log_share, -_FAR)
    result[every] = np.exp(log_share) / np.maximum(-np.expm1(log_share), _SEEN)
    mixed = (x > _SEEN) & (y > _SEEN)
    if mixed.any():
        a, b = x[mixed], y[mixed]

        def excess(u: Floats) -> tuple[Floats, Floats]:
            chance, slope = _at_least(a, b + 1.0, u)
            if mid_p:
                more, steeper = _at_least(a + 1.0, b, u)
                chance, slope = 0.5 * (chance + more), 0.5 * (slope + steeper)
            return _log_excess(chance, slope, tail)

        spread = np.sqrt(1.0 / a + 1.0 / b)
        start = np.log(a) - np.log(b) + special.ndtri(tail) * np.minimum(spread, 9.0)
        result[mixed] = np.exp(solve(excess, start, 0.5 * spread))
    return result


def share_limits(
    x: Floats, n: Floats, tail: float, *, mid_p: bool
) -> tuple[Floats, Floats]:
    """Return the limits of the share of ``x`` events in ``n``; (0, 1) for none of 0."""
    odds = odds_lower(x, n - x, tail, mid_p=mid_p)
    against = odds_lower(n - x, x, tail, mid_p=mid_p)
    return odds / (1.0 + odds), 1.0 / (1.0 + against)


def rate_limits(
    x: Floats, t: Floats, tail: float, *, mid_p: bool
) -> tuple[Floats, Floats]:
    """Return the limits of the rate of ``x`` events in ``t``; (0, inf) for 0."""
    low = _poisson_lower(x, tail, mid_p=mid_p)
    high = _poisson_upper(x, tail, mid_p=mid_p)
    lower = np.divide(low, t, out=np.zeros(x.shape), where=t > 0)
    upper = np.divide(high, t, out=np.full(x.shape, np.inf), where=t > 0)
    return lower, upper


def _poisson_lower(x: Floats, tail: float, *, mid_p: bool) -> Floats:
    """Return the lower limit of a Poisson mean; 0 where there is no event."""
    result = np.zeros(x.shape)
    seen = x > _SEEN
    if seen.any():
        a = x[seen]

        def excess(u: Floats) -> tuple[Floats, Floats]:
            mean = np.exp(u)
            chance, slope = special.gammainc(a, mean), _gamma_slope(a, mean)
            if mid_p:
                chance = 0.5 * (chance + special.gammainc(a + 1.0, mean))
                slope = 0.5 * (slope + _gamma_slope(a + 1.0, mean))
            return _log_excess(chance, slope, tail)

        spread = 1.0 / np.sqrt(a)
        start = np.log(a) + special.ndtri(tail) * np.minimum(spread, 9.0)
        result[seen] = np.exp(solve(excess, start, 0.5 * spread))
    return result


def _poisson_upper(x: Floats, tail: float, *, mid_p: bool) -> Floats:
    """Return the upper limit of a Poisson mean."""
    # nothing happened: exp(-mean), or half of it, is the tail
    result = np.full(x.shape, -np.log((2.0 if mid_p else 1.0) * tail))
    seen = x > _SEEN
    if seen.any():
        a = x[seen]

        def excess(u: Floats) -> tuple[Floats, Floats]:
            mean = np.exp(u)
            chance, slope = (
                special.gammaincc(a + 1.0, mean),
                _gamma_slope(a + 1.0, mean),
            )
            if mid_p:
                chance = 0.5 * (chance + special.gammaincc(a, mean))
                slope = 0.5 * (slope + _gamma_slope(a, mean))
            value, fall = _log_excess(chance, slope, tail)
            return -value, fall

        spread = 1.0 / np.sqrt(a + 1.0)
        start = np.log(a + 1.0) - special.ndtri(tail) * spread
        result[seen] = np.exp(solve(excess, start, 0.5 * spread))
    return result


def _log_excess(chance: Floats, slope: Floats, tail: float) -> tuple[Floats, Floats]:
    """Return the logarithm of chance / tail, and its slope.

    The logarithm of a small tail is nearly straight, so that few steps are needed.
    """
    safe = np.maximum(chance, _SEEN)
    return np.log(safe / tail), slope / safe


def _at_least(a: Floats, b: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Return the incomplete beta function at log odds ``u``, and its slope in them."""
    p, q = special.expit(u), special.expit(-u)
    left = u < 0
    chance = np.empty(u.shape)
    # 1 - I_q(b, a) = I_p(a, b), and the smaller of p and q has kept its digits
    special.betainc(a, b, p, out=chance, where=left)
    special.betaincc(b, a, q, out=chance, where=~left)
    log = special.xlogy(a, p) + special.xlogy(b, q) - special.betaln(a, b)
    return chance, _slope(log, a + b)


def _gamma_slope(a: Floats, mean: Floats) -> Floats:
    """Return the slope of the incomplete gamma function in the log of its mean."""
    return _slope(special.xlogy(a, mean) - mean - special.gammaln(a), a)


def _slope(log: Floats, counts: Floats) -> Floats:
    """Return the exponential, or 0 where so many counts have left no digit of it."""
    return np.exp(np.where(counts < _MANY, np.minimum(log, _FAR), -np.inf))
