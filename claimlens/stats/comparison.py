"""Segments of one fleet against each other, at equal ages.

Never pooled rates of different age mixes: a segment's failures are set against what
the others did at the very ages at which the segment was watched.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, refuse
from claimlens.stats.conditional_ratio import RatioLimits, ratio_limits
from claimlens.stats.shrinkage import shrink, spread_of

__all__ = [
    "Comparison",
    "LogRank",
    "adjusted_for_many",
    "compare_segments",
    "log_rank",
]

Floats = NDArray[np.float64]

# the shrunk ratio and the counts that stand for its likelihood settle in a few rounds
_ROUNDS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRank:
    """Log-rank test of the hypothesis that all segments have one hazard by age.

    Parameters
    ----------
    observed, expected : ndarray, shape (S,)
        Failures, and those expected had all segments one hazard at each age.
    variance : ndarray, shape (S, S)
        Covariance of observed - expected.
    chi_square : float
        NaN where no two segments were ever under observation together.
    degrees : int
        Degrees of freedom; 0 where nothing can be compared.
    p_value : float
        NaN with ``chi_square``.
    """

    observed: Floats
    expected: Floats
    variance: Floats
    chi_square: float
    degrees: int
    p_value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Each of S segments against all the others; arrays of shape (S,).

    Parameters
    ----------
    observed : ndarray
        Failures of the segment.
    comparable : ndarray
        Those of them at ages at which others were under observation too.
    expected : ndarray
        Failures expected of the segment at those ages with the hazard of the others;
        NaN where nothing can be compared.
    ratio, lower, upper : ndarray
        ``comparable / expected``, which is the hazard of the segment over that of the
        others, and its mid-p limits. NaN where nothing can be compared; inf where the
        others have no failure.
    p_value : ndarray
        Two-sided mid-p for a ratio of 1; the limits exclude 1 where it is below one
        minus the confidence.
    chi_square : ndarray
        Log-rank statistic of the segment against the others, 1 degree of freedom.
    shrunk, shrunk_lower, shrunk_upper : ndarray
        The ratio drawn towards 1 by as much as chance explains, and its limits.
    rank_lower, rank_upper : ndarray of int
        Limits of the place, 1 for the highest ratio; 0 where nothing can be compared.
    alpha : float
        Shape of the gamma distribution of the ratios; NaN without any.
    note : str
        What is to be said of the spread; else empty.
    """

    observed: Floats
    comparable: Floats
    expected: Floats
    ratio: Floats
    lower: Floats
    upper: Floats
    p_value: Floats
    chi_square: Floats
    shrunk: Floats
    shrunk_lower: Floats
    shrunk_upper: Floats
    rank_lower: NDArray[np.int64]
    rank_upper: NDArray[np.int64]
    alpha: float
    note: str


def log_rank(failures: ArrayLike, exposed: ArrayLike) -> LogRank:
    """Test whether segments have one hazard by age.

    Parameters
    ----------
    failures : array_like, shape (S, A)
        Units of each segment that failed at each age.
    exposed : array_like, shape (S, A)
        Units that passed the age under observation without failing there; sums of
        weights are allowed. Units at risk are both together.

    Returns
    -------
    LogRank
        With the hypergeometric variance, which allows for ties. A p-value alone says
        nothing of size: give it with the ratios of `compare_segments`.

    Raises
    ------
    InputError
        If shapes disagree or a value is negative or not finite.

    References
    ----------
    .. [1] Mantel (1966), Cancer Chemother. Rep. 50, 163-170.
    .. [2] Peto, Peto (1972), J. R. Stat. Soc. A 135, 185-207.
    .. [3] Kalbfleisch, Prentice (2002), The Statistical Analysis of Failure Time Data,
       2nd ed., 1.5 (several samples, ties).
    """
    failed, at_risk = _tables(failures, exposed)
    total, everyone = failed.sum(axis=0), at_risk.sum(axis=0)
    share = np.divide(
        at_risk, everyone, out=np.zeros(at_risk.shape), where=everyone > 0
    )
    observed, expected = failed.sum(axis=1), share @ total
    weight = total * _ties(total, everyone)
    variance = np.diag(share @ weight) - (share * weight) @ share.T
    # the differences add up to 0 within each set of segments that were ever watched
    # together: what has no variance is not free
    values, vectors = np.linalg.eigh(variance)
    free = values > 1e-10 * max(float(values.max(initial=0.0)), 1e-300)
    degrees, chi_square = int(free.sum()), np.nan
    if degrees:
        along = vectors[:, free].T @ (observed - expected)
        chi_square = float((along**2 / values[free]).sum())
    return LogRank(
        observed=observed,
        expected=expected,
        variance=variance,
        chi_square=chi_square,
        degrees=degrees,
        p_value=float(special.chdtrc(degrees, chi_square)) if degrees else np.nan,
    )


def compare_segments(
    failures: ArrayLike,
    exposed: ArrayLike,
    *,
    seed: int,
    confidence: float = 0.95,
    shrunk_confidence: float = 0.90,
    draws: int = 4000,
) -> Comparison:
    """Compare each segment with all the others at equal ages, and rank them.

    Parameters
    ----------
    failures : array_like, shape (S, A)
        Units of each segment that failed at each age.
    exposed : array_like, shape (S, A)
        Units that passed the age under observation without failing there; sums of
        weights are allowed. Units at risk are both together.
    seed : int
        Seed of the draws behind the rank limits.
    confidence : float, default 0.95
        Level of the limits of the ratio.
    shrunk_confidence : float, default 0.90
        Level of the limits of the shrunk ratio and of the rank.
    draws : int, default 4000
        Draws behind the rank limits.

    Returns
    -------
    Comparison
        The ratio is estimated given the failures of each age, of which the segment's
        are binomial: no hazard has to be estimated and it is not drawn towards 1 by
        the segment's own part of the fleet, as observed over pooled expectation is.
        Below about 10 failures its mid-p limits hold their level where those of the
        logarithm's normal error (Mantel-Haenszel's among them) do not exist or miss.

    Raises
    ------
    InputError
        If shapes disagree or a value is negative or not finite.

    References
    ----------
    .. [1] Cox (1972), J. R. Stat. Soc. B 34, 187-220.
    .. [2] Berry, Armitage (1995), Statistician 44, 417-423 (mid-p).
    .. [3] Clayton, Kaldor (1987), Biometrics 43, 671-681 (shrinkage).
    """
    level, inner_level = confidence_of(confidence), confidence_of(shrunk_confidence)
    failed, at_risk = _tables(failures, exposed)
    informative = failed.any(axis=0)
    failed, at_risk = failed[:, informative], at_risk[:, informative]
    total = failed.sum(axis=0)
    rest = np.maximum(at_risk.sum(axis=0) - at_risk, 0.0)
    # what is left of a difference of sums of weights after rounding is nobody
    rest = np.where(rest > 1e-9 * at_risk.sum(axis=0), rest, 0.0)
    both = (at_risk > 0) & (rest > 0)
    at_stake = np.where(both, total, 0.0)
    odds = np.divide(at_risk, rest, out=np.ones(at_risk.shape), where=both)
    mine = np.where(both, failed, 0.0).sum(axis=1)
    others = np.maximum(at_stake.sum(axis=1) - mine, 0.0)
    limits = ratio_limits(at_stake, odds, mine, others, (1.0 - level) / 2.0)
    share = odds / (1.0 + odds)
    shrunk = _shrunk(at_stake, odds, mine, inner_level, seed)
    pooled = (at_stake * share).sum(axis=1)
    known = pooled > 0
    ranks = shrink(
        np.where(known, mine, 0.0),
        pooled,
        seed=seed,
        confidence=inner_level,
        draws=draws,
    )
    return Comparison(
        observed=failed.sum(axis=1),
        comparable=mine,
        expected=_expected(at_stake, odds, mine, limits),
        ratio=limits.ratio,
        lower=np.where(known, limits.lower, np.nan),
        upper=np.where(known, limits.upper, np.nan),
        p_value=limits.p_value,
        chi_square=_chi_square(at_stake, at_risk.sum(axis=0), share, mine - pooled),
        shrunk=shrunk[0],
        shrunk_lower=shrunk[1],
        shrunk_upper=shrunk[2],
        rank_lower=ranks.rank_lower,
        rank_upper=ranks.rank_upper,
        alpha=ranks.alpha if known.any() else np.nan,
        note=ranks.note,
    )


def adjusted_for_many(p_values: ArrayLike) -> Floats:
    """Adjust p-values that stand side by side, by Benjamini and Hochberg's rule.

    Parameters
    ----------
    p_values : array_like, shape (P,)
        From 0 to 1; NaN where there is none, which does not count.

    Returns
    -------
    ndarray, shape (P,)
        Listing all rows with an adjusted value of at most q keeps the mean share of
        false ones among them at q or below.

    Raises
    ------
    InputError
        If a value lies outside 0 to 1, or they are not one row.

    References
    ----------
    .. [1] Benjamini, Hochberg (1995), J. R. Stat. Soc. B 57, 289-300.
    """
    p = np.asarray(p_values, dtype=np.float64)
    if p.ndim != 1:
        raise refuse("p_values must be one row", f"shape {p.shape}")
    known = ~np.isnan(p)
    if ((p[known] < 0) | (p[known] > 1)).any():
        raise refuse("p_values must lie between 0 and 1", p[known].tolist()[:5])
    adjusted = np.full(p.shape, np.nan)
    order = np.argsort(p[known], kind="stable")
    raised = p[known][order] * (order.size / np.arange(1, order.size + 1))
    # no value above that of a larger p-value
    least = np.minimum.accumulate(raised[::-1])[::-1]
    back = np.empty(order.size)
    back[order] = np.minimum(least, 1.0)
    adjusted[known] = back
    return adjusted


def _tables(failures: ArrayLike, exposed: ArrayLike) -> tuple[Floats, Floats]:
    """Return failures and units at risk, checked, shape (S, A)."""
    failed, passed = counts_of("failures", failures), counts_of("exposed", exposed)
    if failed.ndim != 2 or failed.shape != passed.shape:
        raise refuse(
            "failures and exposed must have one shape (segments, ages)",
            f"shapes {failed.shape} and {passed.shape}",
        )
    return failed, failed + passed


def _ties(total: Floats, everyone: Floats) -> Floats:
    """Return the factor by which ties lessen the variance; weights are no ties."""
    room = everyone - 1.0
    return np.clip(
        np.divide(everyone - total, room, out=np.ones(total.shape), where=room > 0),
        0.0,
        1.0,
    )


def _chi_square(
    at_stake: Floats, everyone: Floats, share: Floats, difference: Floats
) -> Floats:
    """Return the log-rank statistic of each segment against the others."""
    ties = _ties(at_stake, np.broadcast_to(everyone, at_stake.shape))
    variance = (at_stake * ties * share * (1.0 - share)).sum(axis=1)
    result = np.full(variance.shape, np.nan)
    np.divide(difference**2, variance, out=result, where=variance > 0)
    return result


def _expected(
    at_stake: Floats, odds: Floats, mine: Floats, limits: RatioLimits
) -> Floats:
    """Return the failures expected of each segment with the hazard of the others.

    The hazard of an age is failures / (ratio * exposure + exposure of the others).
    """
    finite = np.isfinite(limits.ratio)
    ratio = np.where(finite, limits.ratio, 0.0)
    value = (at_stake * odds / (1.0 + ratio[:, None] * odds)).sum(axis=1)
    # the same sum, exact to the last digit
    value = np.divide(mine, ratio, out=value, where=ratio > 0)
    # where the others have no failure, none is expected
    value = np.where(np.isposinf(limits.ratio), 0.0, value)
    return np.where(np.isnan(limits.ratio), np.nan, value)


def _shrunk(
    at_stake: Floats, odds: Floats, mine: Floats, level: float, seed: int
) -> tuple[Floats, Floats, Floats]:
    """Return the shrunk ratio to the others, with its limits.

    Shrinkage knows Poisson counts with a known expectation; here the hazard of the
    others is uncertain too. Near a ratio t the likelihood is that of a Poisson count
    of mine - m(t) + v(t) where v(t) / t is expected, m and v being the mean and the
    variance of the segment's failures: first and second derivative agree. The counts
    are taken at the shrunk ratio itself.
    """
    known = at_stake.any(axis=1)
    result = np.full((3, mine.size), np.nan)
    if not known.any():
        return result[0], result[1], result[2]
    stake, part, count = at_stake[known], odds[known], mine[known]

    def counts_at(ratio: Floats) -> tuple[Floats, Floats]:
        share = ratio[:, None] * part / (1.0 + ratio[:, None] * part)
        mean = (stake * share).sum(axis=1)
        variance = (stake * share * (1.0 - share)).sum(axis=1)
        seen = count - mean + variance
        # a count below 0 stands for none, with the slope kept
        expected = np.where(seen > 0, variance, mean - count) / ratio
        return np.maximum(seen, 0.0), expected

    ratio = np.ones(count.size)
    for _ in range(_ROUNDS):
        seen, expected = counts_at(ratio)
        alpha = spread_of(seen, expected)
        ratio = np.sqrt(ratio * (alpha + seen) / (alpha + expected))
    found = shrink(*counts_at(ratio), seed=seed, confidence=level, draws=1)
    result[:, known] = found.ratio, found.lower, found.upper
    return result[0], result[1], result[2]
