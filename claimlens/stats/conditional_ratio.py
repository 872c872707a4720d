"""The ratio of two hazards at equal ages, from the counts of each age.

Given the failures of an age, those of group 1 among them are binomial, with odds of
ratio * exposure 1 / exposure 2: the hazard itself drops out. Over all ages they are a
sum of binomials with one unknown, the ratio. Limits and p-values count half the chance
of exactly what was seen (mid-p). With few failures on one side the sum is exact; with
many on both, the signed root of the likelihood ratio in its third-order form stands
for it.

Private to the room: the functions assume checked counts.

References
----------
.. [1] Przyborowski, Wilenski (1940), Biometrika 31, 313-323 (one age).
.. [2] Cox (1972), J. R. Stat. Soc. B 34, 187-220 (conditioning, age by age).
.. [3] Pierce, Peters (1992), J. R. Stat. Soc. B 54, 701-737 (third order; without a
   continuity correction it approximates mid-p).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.tails import solve

__all__ = ["RatioLimits", "ratio_limits"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# up to so many failures on the smaller side the sum of binomials is exact
_EXACT = 20
_NOBODY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioLimits:
    """Ratio of hazards of G pairs of groups; arrays of shape (G,).

    Parameters
    ----------
    ratio : ndarray
        Conditional likelihood estimate; 0 or inf where one side has no failure, NaN
        where neither has.
    lower, upper : ndarray
        Mid-p limits; 0 and inf where nothing bounds them.
    information : ndarray
        Inverse variance of the logarithm of the ratio; 0 where it is 0, inf or NaN.
    p_value : ndarray
        Two-sided, for a ratio of 1; NaN where neither side has a failure.
    """

    ratio: Floats
    lower: Floats
    upper: Floats
    information: Floats
    p_value: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pairs:
    """Failures of both groups by age (G, A), log odds at ratio 1, and their totals."""

    failures: Floats
    log_odds: Floats
    x: Floats
    y: Floats

    def take(self, chosen: Mask) -> _Pairs:
        return _Pairs(
            failures=self.failures[chosen],
            log_odds=self.log_odds[chosen],
            x=self.x[chosen],
            y=self.y[chosen],
        )

    def at(self, u: Floats) -> tuple[Floats, Floats, Floats]:
        """Return expected failures, their variance and the log of the norm."""
        logit = u[:, None] + self.log_odds
        share = special.expit(logit)
        expected = np.einsum("ga,ga->g", self.failures, share)
        variance = np.einsum("ga,ga,ga->g", self.failures, share, 1.0 - share)
        norm = np.einsum("ga,ga->g", self.failures, np.logaddexp(0.0, logit))
        return expected, variance, norm


def ratio_limits(
    failures: Floats, odds: Floats, x: Floats, y: Floats, tail: float
) -> RatioLimits:
    """Estimate the ratio of hazards of each pair, with its limits.

    Parameters
    ----------
    failures : ndarray, shape (G, A)
        Failures of both groups at each age; 0 where only one was under observation.
    odds : ndarray, shape (G, A)
        Exposure of group 1 over that of group 2; above 0 where there are failures.
    x, y : ndarray, shape (G,)
        Failures of group 1 and of group 2 at those ages.
    tail : float
        Weight of one tail, above 0 and below 0.5.

    Returns
    -------
    RatioLimits
        Of group 1 over group 2.
    """
    safe = np.where(failures > 0, odds, 1.0)
    x, y = np.where(x > _NOBODY, x, 0.0), np.where(y > _NOBODY, y, 0.0)
    # the smaller side is counted, so that the sum over its counts is short
    swap = y < x
    sign = np.where(swap, -1.0, 1.0)
    pairs = _Pairs(
        failures=failures,
        log_odds=np.log(safe) * sign[:, None],
        x=np.where(swap, y, x),
        y=np.where(swap, x, y),
    )
    known = pairs.y > 0
    log_ratio = np.full(x.shape, -np.inf)
    low, high = np.full(x.shape, -np.inf), np.full(x.shape, np.inf)
    information, p_value = np.zeros(x.shape), np.full(x.shape, np.nan)
    inner = known & (pairs.x > 0)
    if inner.any():
        log_ratio[inner] = _estimate(pairs.take(inner))
        information[inner] = pairs.take(inner).at(log_ratio[inner])[1]
    few = known & (pairs.x <= _EXACT)
    if few.any():
        low[few], high[few], p_value[few] = _exact(pairs.take(few), tail)
    many = known & ~few
    if many.any():
        low[many], high[many], p_value[many] = _third_order(
            pairs.take(many), log_ratio[many], tail
        )
    log_ratio = np.where(known, log_ratio, np.nan)
    with np.errstate(over="ignore"):
        return RatioLimits(
            ratio=np.exp(sign * log_ratio),
            lower=np.exp(np.where(swap, -high, low)),
            upper=np.exp(np.where(swap, -low, high)),
            information=information,
            p_value=p_value,
        )


def _estimate(pairs: _Pairs) -> Floats:
    """Return the log ratio at which as many failures are expected as were seen."""

    def excess(u: Floats) -> tuple[Floats, Floats]:
        expected, variance, _ = pairs.at(u)
        return np.log(np.maximum(expected, 1e-300) / pairs.x), variance / np.maximum(
            expected, 1e-300
        )

    return solve(excess, _start(pairs), np.ones(pairs.x.shape))


def _start(pairs: _Pairs) -> Floats:
    """Return a log ratio near the estimate."""
    typical = (pairs.failures * pairs.log_odds).sum(axis=1) / pairs.failures.sum(axis=1)
    return np.asarray(np.log((pairs.x + 0.5) / (pairs.y + 0.5)) - typical)


def _exact(pairs: _Pairs, tail: float) -> tuple[Floats, Floats, Floats]:
    """Return log limits and p-value from the distribution of the smaller count."""
    pairs = _in_whole_failures(pairs)
    # in units in which the sum of the odds is 1, no coefficient leaves its range
    weighted = np.log(np.maximum(pairs.failures, 1e-300)) + pairs.log_odds
    unit = special.logsumexp(weighted, axis=1)
    scaled = replace(pairs, log_odds=pairs.log_odds - unit[:, None])
    size = int(np.ceil(pairs.x.max(initial=0.0))) + 2
    with np.errstate(divide="ignore"):
        weight = np.log(_coefficients(scaled, size) * _counted(pairs.x, size))
    j = np.arange(size, dtype=np.float64)

    def at_most(u: Floats) -> tuple[Floats, Floats]:
        """Return the log chance of what was seen or less, and its slope."""
        terms = weight + j * u[:, None]
        log = special.logsumexp(terms, axis=1)
        mean = np.einsum("gj,j->g", np.exp(terms - log[:, None]), j)
        expected, _, norm = scaled.at(u)
        return log - norm, mean - expected

    def beyond_upper(u: Floats) -> tuple[Floats, Floats]:
        log, slope = at_most(u)
        return np.log(tail) - log, -slope

    def beyond_lower(u: Floats) -> tuple[Floats, Floats]:
        log, slope = at_most(u)
        more = np.maximum(-np.expm1(log), 1e-300)
        return np.log(more / tail), -slope * np.exp(log) / more

    width = np.ones(pairs.x.shape)
    start = _start(scaled)
    high = solve(beyond_upper, start + 1.0, width) - unit
    low = np.full(pairs.x.shape, -np.inf)
    some = pairs.x > 0
    if some.any():
        low = np.where(some, solve(beyond_lower, start - 1.0, width) - unit, -np.inf)
    # rounding alone must not push a chance out of its range
    chance = np.clip(np.exp(at_most(unit)[0]), 0.0, 1.0)
    return low, high, np.minimum(2.0 * np.minimum(chance, 1.0 - chance), 1.0)


def _counted(x: Floats, size: int) -> Floats:
    """Return how much of each count belongs to "what was seen or less", (G, size).

    One below what was seen, one half at it; between two whole counts, what lies
    between the two answers.
    """
    j = np.arange(size)
    whole = np.floor(x)[:, None]
    part = x[:, None] - whole
    return np.select(
        [j < whole, j == whole, j == whole + 1],
        [1.0, 0.5 * (1.0 + part), 0.5 * part],
        0.0,
    )


def _in_whole_failures(pairs: _Pairs) -> _Pairs:
    """Join parts of failures, whose units have no date of their own, to whole ones.

    The parts lie at the ages at which the failure may have happened. Taken in order
    of age they make up failures, each at the mean log odds of its parts; half a
    failure or more that is left over at the end counts as one.
    """
    whole = np.floor(pairs.failures + _NOBODY)
    part = np.clip(pairs.failures - whole, 0.0, 1.0)
    part = np.where(part > _NOBODY, part, 0.0)
    mass = part.sum(axis=1)
    none = whole.sum(axis=1) < 0.5
    joined = np.where(none, np.maximum(np.rint(mass), 1.0), np.rint(mass)).astype(int)
    if not mass.any():
        return replace(pairs, failures=whole)
    log_odds = np.zeros((mass.size, joined.max(initial=0)))
    for i in np.flatnonzero(joined):
        upto = np.concatenate([[0.0], np.cumsum(part[i])])
        area = np.concatenate([[0.0], np.cumsum(part[i] * pairs.log_odds[i])])
        ends = np.append(np.arange(joined[i], dtype=np.float64), mass[i])
        # less than half a failure beyond the last is dropped
        ends[-1] = min(mass[i], float(joined[i]))
        log_odds[i, : joined[i]] = np.diff(np.interp(ends, upto, area)) / np.diff(ends)
    added = np.arange(log_odds.shape[1]) < joined[:, None]
    return replace(
        pairs,
        failures=np.concatenate([whole, added.astype(np.float64)], axis=1),
        log_odds=np.concatenate([pairs.log_odds, log_odds], axis=1),
    )


def _coefficients(pairs: _Pairs, size: int) -> Floats:
    """Return the chance of each count of the smaller side at odds 1, up to a norm.

    The coefficients of the product over ages of (1 + odds z)**failures, shape
    (G, size), for whole failures. All terms are positive: no digit is lost.
    """
    product = np.zeros((pairs.x.size, size))
    product[:, 0] = 1.0
    odds = np.exp(pairs.log_odds)
    for column in np.flatnonzero(pairs.failures.any(axis=0)):
        n, one = pairs.failures[:, column], odds[:, column]
        series = np.ones((n.size, size))
        for k in range(1, size):
            series[:, k] = series[:, k - 1] * np.maximum(n - k + 1.0, 0.0) / k * one
        product = _times(product, series, int(min(n.max(), size - 1)))
    return product


def _times(product: Floats, series: Floats, degree: int) -> Floats:
    """Multiply two power series, the second of at most ``degree``."""
    result = product.copy()
    for k in range(1, degree + 1):
        result[:, k:] += product[:, :-k] * series[:, k : k + 1]
    return result


def _third_order(
    pairs: _Pairs, log_ratio: Floats, tail: float
) -> tuple[Floats, Floats, Floats]:
    """Return log limits and p-value from the modified signed root."""
    _, information, norm = pairs.at(log_ratio)
    best = pairs.x * log_ratio - norm

    def root(u: Floats) -> tuple[Floats, Floats]:
        """Return the modified root and about its slope; it falls as u rises."""
        expected, _, norm = pairs.at(u)
        apart = log_ratio - u
        gain = np.maximum(best - (pairs.x * u - norm), 0.0)
        signed = np.sign(apart) * np.sqrt(2.0 * gain)
        wald = apart * np.sqrt(information)
        # at the estimate both are 0, and so is what they differ by
        far = np.abs(signed) > 1e-3
        safe = np.where(far, signed, 1.0)
        change = np.where(far, np.log(np.where(far, wald, 1.0) / safe) / safe, 0.0)
        slope = np.where(far, (pairs.x - expected) / safe, np.sqrt(information))
        return signed + change, -slope

    def limit(z: float) -> Floats:
        def excess(u: Floats) -> tuple[Floats, Floats]:
            value, slope = root(u)
            return z - value, -slope

        spread = 1.0 / np.sqrt(information)
        return solve(excess, log_ratio - z * spread, 0.5 * spread)

    z = float(-special.ndtri(tail))
    p_value = 2.0 * special.ndtr(-np.abs(root(np.zeros(log_ratio.shape))[0]))
    return limit(z), limit(-z), p_value
