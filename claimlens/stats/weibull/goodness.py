"""Whether a Weibull life follows the counts: a parametric bootstrap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.unit_months import DAYS_PER_MONTH
from claimlens.stats.weibull.draws import Table, table_of
from claimlens.stats.weibull.maximise import maximise

__all__ = ["FitTest", "fit_test"]

Floats = NDArray[np.float64]

MIN_FAILURES = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class FitTest:
    """How far the counts are from a Weibull life, against chance.

    Parameters
    ----------
    statistic : float
        G = 2 * sum(d ln(d / E) - (d - E)) over the cells; NaN where not
        tested.
    p : float
        (1 + draws at least as far) / (draws + 1); NaN where not tested.
    draws : int
        Bootstrap data sets that could be fitted.
    edges : ndarray, shape (C + 1,)
        Ages between which failures were counted.
    observed, expected : ndarray, shape (C,)
        Failures in each cell, and those that the fit expects of the units at
        risk there.
    note : str
        Why there is no test, or what a small p means; else empty.
    """

    statistic: float
    p: float
    draws: int
    edges: Floats
    observed: Floats
    expected: Floats
    note: str


def fit_test(
    ages: ArrayLike,
    failures: ArrayLike,
    exposed: ArrayLike,
    watched: ArrayLike,
    *,
    lower: ArrayLike,
    seed: int,
    width: float | None = DAYS_PER_MONTH,
    draws: int = 199,
) -> FitTest:
    """Test whether a Weibull life follows grouped failures.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Upper ends of the cells.
    failures : array_like, shape (A,)
        Failures of one segment in (lower, age].
    exposed : array_like, shape (A,)
        Units that passed each cell under observation without failing there,
        weighted as in `fit`.
    watched : array_like, shape (A,)
        Units that would be watched through each cell had nobody failed, weighted
        likewise.
    lower : array_like, shape (A,)
        Lower ends of the cells, which must not overlap.
    seed : int
        Seed of the generator; the same seed gives the same p.
    width : float, optional
        Width of the cells over which the distance is summed, in the unit of
        the ages (30.4375 days by default); None takes the cells as given.
    draws : int, default 199
        Bootstrap data sets.

    Returns
    -------
    FitTest
        Untested, with the reason, below 10 failures or without a fit.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, cells overlap, or
        more units passed a cell than are watched there.

    Notes
    -----
    Cells narrower than 2 per cent of their age are merged first, for the real
    counts and the drawn ones alike.

    References
    ----------
    .. [1] Lawless (2003), Statistical Models and Methods for Lifetime Data,
       2nd ed., ch. 10.
    .. [2] Davison, Hinkley (1997), Bootstrap Methods and their Application,
       ch. 4.
    """
    table, cells, edges = table_of(
        ages, failures, exposed, watched, lower=lower, width=width
    )
    total = float(table.failures.sum())
    if total < MIN_FAILURES:
        return _untested(f"{total:g} failures, {MIN_FAILURES} needed")
    best = maximise(cells)
    if not best.converged[0]:
        return _untested("no fit to test")
    place = np.searchsorted(edges, (table.lower + table.upper) / 2.0) - 1
    chance = table.chances(best.k, best.m, cells.unit)
    observed = _summed(table.failures[None, :], place)
    expected = _summed(table.at_risk * chance, place)
    statistic = float(_distance(observed, expected)[0])
    distances = _drawn_distances(
        np.random.default_rng(seed), table, (chance[0], best.k[0]), place, draws
    )
    # ties by rounding count as exceeding, or p would come out too small
    beyond = int((distances >= statistic * (1.0 - 1e-12)).sum())
    p = (1 + beyond) / (distances.size + 1)
    return FitTest(
        statistic=statistic,
        p=p,
        draws=int(distances.size),
        edges=edges,
        observed=observed[0],
        expected=expected[0],
        note=""
        if p >= 0.05
        else "Weibull does not follow these data: read the Kaplan-Meier curve",
    )


def _drawn_distances(
    rng: np.random.Generator,
    table: Table,
    fitted: tuple[Floats, float],
    place: NDArray[np.intp],
    draws: int,
) -> Floats:
    """Return the distances of drawn fleets from their own fits."""
    chance, shape = fitted
    failed, passed = table.draw(rng, chance, draws)
    tried = np.flatnonzero((failed > 0).sum(axis=1) >= 2)
    failed, passed = failed[tried], passed[tried]
    again = table.prepared(failed, passed).cells
    refit = maximise(again, np.full(tried.size, shape))
    sound = np.flatnonzero(refit.converged)
    chances = table.chances(refit.k[sound], refit.m[sound], again.unit)
    return _distance(
        _summed(failed[sound], place),
        _summed((failed[sound] + passed[sound]) * chances, place),
    )


def _untested(why: str) -> FitTest:
    """Return the result without a test."""
    none = np.zeros(0)
    return FitTest(
        statistic=np.nan,
        p=np.nan,
        draws=0,
        edges=none,
        observed=none,
        expected=none,
        note=why,
    )


def _summed(values: Floats, place: NDArray[np.intp]) -> Floats:
    """Add up fine cells by coarse cell, (B, C); the cells stand in order."""
    first = np.searchsorted(place, np.arange(int(place[-1]) + 1))
    return np.asarray(np.add.reduceat(values, first, axis=1))


def _distance(observed: Floats, expected: Floats) -> Floats:
    """Return G for each line."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(observed > 0, observed / expected, 1.0)
    terms = special.xlogy(observed, ratio) - (observed - expected)
    return np.asarray(2.0 * terms.sum(axis=1))
