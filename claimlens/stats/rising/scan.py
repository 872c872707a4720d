"""Runs of build months with more failures than expected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of

__all__ = [
    "LEAST_FAILURES",
    "LONGEST",
    "Runs",
    "log_likelihood_ratio",
    "no_runs",
    "scan",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]

#: Longest run of build months.
LONGEST = 6
#: Fewest failures that make a run.
LEAST_FAILURES = 3
# below this much expected one model says nothing of itself, and of all models it is
# not known that so little is to be expected
_LEAST_EXPECTED = 0.05
# the ratio is the greatest over all rates, so single lucky runs stand too high: a
# power below 1 keeps them from speaking for all. Measured: most power at equal false
# signals from 0.5 to 0.7, most windows right at 0.7
_POWER = 0.7
# a run that begins long ago has been looked at many times before: from the ninth
# month on each month takes so much of its weight. Measured: 5 points of power within
# six months at equal false signals; a fault that shows late needs up to two units of
# evidence more
_FRESH_MONTHS = 9
_FADING = 0.15
# below this ratio nobody asks where the excess lies
_TOLD = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """What the runs of build months say of each of R rows; arrays of shape (R,).

    Parameters
    ----------
    evidence : ndarray
        Logarithm of the power mean, over all runs, of the likelihood of the counts
        at the run's own rate over that at the expected rate; 0 where nothing is
        above expectation.
    ratio : ndarray
        Greatest logarithm of that likelihood ratio of any single run.
    first, last : ndarray of int
        Build months of the run that the counts speak for, as indices; -1 where
        there is none.
    observed, expected : ndarray
        Failures of that run.
    uncertainty : ndarray
        Relative variance of ``expected``.
    """

    evidence: Floats
    ratio: Floats
    first: Indices
    last: Indices
    observed: Floats
    expected: Floats
    uncertainty: Floats


def log_likelihood_ratio(
    observed: ArrayLike, expected: ArrayLike, uncertainty: ArrayLike = 0.0
) -> Floats:
    """Compute how much better counts fit their own mean than the expected one.

    Parameters
    ----------
    observed, expected : array_like
        Counts and their means, in shapes that match.
    uncertainty : array_like, default 0.0
        Relative variance v of the expected count. 0 is the Poisson case,
        O ln(O/E) - (O - E); else the count is negative binomial of shape 1 / v.

    Returns
    -------
    ndarray
        0 where no more was seen than expected; infinite where something was seen
        and nothing expected. The chance of so many or more is at most
        exp(-ratio) [1]_.

    Raises
    ------
    InputError
        If a value is negative or not finite.

    References
    ----------
    .. [1] Chernoff (1952), Ann. Math. Stat. 23, 493-507.
    .. [2] Kulldorff (1997), Commun. Stat. Theory Methods 26, 1481-1496.
    """
    o, e = counts_of("observed", observed), counts_of("expected", expected)
    return _ratio(o, e, counts_of("uncertainty", uncertainty))


def _ratio(observed: Floats, expected: Floats, uncertainty: Floats) -> Floats:
    """Return the ratio for counts above what is expected, and 0 for all others."""
    o, e, v = np.broadcast_arrays(observed, expected, uncertainty)
    more = o > e
    result = np.zeros(o.shape)
    o, e, v = o[more], e[more], v[more]
    with np.errstate(divide="ignore"):
        first = o * np.log(o / e)
    # (O + 1/v) ln((1 + vO) / (1 + vE)) tends to O - E
    small = v * o < 1e-7
    shape = 1.0 / np.where(small, 1.0, v)
    second = (o + shape) * np.log1p(v * (o - e) / (1.0 + v * e))
    result[more] = first - np.where(small, o - e, second)
    return result


def scan(
    observed: Floats,
    expected: Floats,
    uncertainty: Floats,
    noise: Floats,
    one_model: Bools,
    *,
    fading: bool = True,
) -> Runs:
    """Look at every run of build months of every row.

    Parameters
    ----------
    observed, expected : ndarray, shape (R, K)
        Failures by build month; months without production are left out by the
        caller, so that a run may reach over them.
    uncertainty, noise : ndarray, shape (R,)
        Relative variance of the level, and of each month about it.
    one_model : ndarray of bool, shape (R,)
        Rows in which a run must expect 0.05 failures at least.
    fading : bool, default True
        Whether runs that begin long before the last month weigh less.

    Returns
    -------
    Runs
        The run is the one that shares most months with all others, weighted by
        their likelihood: closer to the truth than the likeliest one, which is
        often the luckiest part of it.
    """
    n_rows, n_months = observed.shape
    start, end = _all_runs(n_months)
    if not n_rows or not start.size:
        return no_runs(n_rows)
    o, e, squares = (
        _over(values, start, end)
        for values in (observed, expected, expected * expected)
    )
    enough = (o >= LEAST_FAILURES) & ((e >= _LEAST_EXPECTED) | ~one_model[:, None])
    e = np.maximum(e, _LEAST_EXPECTED)
    spread = uncertainty[:, None] + noise[:, None] * squares / (e * e)
    ratio = _ratio(np.where(enough, o, 0.0), e, spread)
    top = ratio.max(axis=1)
    late = np.maximum(n_months - start - _FRESH_MONTHS, 0) if fading else 0 * start
    share = np.exp(-_FADING * late)
    weight = np.exp(_POWER * (ratio - top[:, None])) * (share / share.sum())
    evidence = top + np.log(weight.sum(axis=1)) / _POWER
    rows = np.arange(n_rows)
    run = ratio.argmax(axis=1)
    told = np.flatnonzero(top > _TOLD)
    # runs without an excess weigh nothing in where it lies
    above = ratio[told] > 0
    central = (weight[told] * above) @ _months_shared(start, end)
    run[told] = np.where(above, central, -1.0).argmax(axis=1)
    found = top > 0
    return Runs(
        # rounding may leave a mean of ones a hair below 1
        evidence=np.where(found, np.maximum(evidence, 0.0), 0.0),
        ratio=top,
        first=np.where(found, start[run], -1),
        last=np.where(found, end[run] - 1, -1),
        observed=np.where(found, o[rows, run], 0.0),
        expected=np.where(found, e[rows, run], 0.0),
        uncertainty=np.where(found, spread[rows, run], 0.0),
    )


def no_runs(n_rows: int) -> Runs:
    """Return rows of which no run says anything."""
    none, zero = np.full(n_rows, -1, dtype=np.int64), np.zeros(n_rows)
    return Runs(
        evidence=zero,
        ratio=zero,
        first=none,
        last=none,
        observed=zero,
        expected=zero,
        uncertainty=zero,
    )


def _all_runs(n_months: int) -> tuple[Indices, Indices]:
    """Return first month, and month after the last, of every run."""
    start, end = np.triu_indices(n_months + 1, k=1)
    short = end - start <= LONGEST
    return start[short], end[short]


def _over(values: Floats, start: Indices, end: Indices) -> Floats:
    """Return sums over runs, shape (R, W)."""
    summed = np.zeros((len(values), values.shape[1] + 1))
    np.cumsum(values, axis=1, out=summed[:, 1:])
    return summed[:, end] - summed[:, start]


def _months_shared(start: Indices, end: Indices) -> Floats:
    """Return months in common over months in either, for every pair of runs."""
    common = np.minimum(end[:, None], end) - np.maximum(start[:, None], start)
    common = np.maximum(common, 0)
    length = end - start
    return np.asarray(common / (length[:, None] + length - common))
