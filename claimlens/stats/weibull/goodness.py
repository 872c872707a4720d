"""Whether a Weibull life follows the counts: a parametric bootstrap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import ages_of, counts_of, refuse
from claimlens.stats.weibull.cells import Cells, prepare
from claimlens.stats.weibull.maximise import maximise

__all__ = ["FitTest", "fit_test"]

Floats = NDArray[np.float64]

MIN_FAILURES = 10
MONTH = 30.4375
"""Days in a month in service (365.25 / 12)."""


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
        Failures in each cell, and those that the fit expects.
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


@dataclass(frozen=True, slots=True)
class _Design:
    """Fine and coarse cells, and when the units would leave.

    ``edges`` (E + 1,) starts at 0; ``planned`` (E,) counts the units that
    would leave at each edge above 0; ``coarse`` are positions in ``edges``.
    """

    edges: Floats
    planned: Floats
    coarse: NDArray[np.intp]

    def expected(self, k: Floats, m: Floats, unit: float) -> Floats:
        """Return the failures expected in each coarse cell, (B, C)."""
        share = _share(k, m, np.log(self.edges[1:] / unit))
        still = np.cumsum(self.planned[::-1])[::-1]
        gone = self.planned * share
        total = share * still + np.cumsum(gone, axis=1) - gone
        total = np.hstack([np.zeros((k.size, 1)), total])
        return np.diff(total[:, self.coarse], axis=1)

    def cells(self, failed: Floats, left: Floats) -> Cells:
        """Return the cells of simulated counts."""
        return prepare(
            self.edges[1:], failed, left, lower=self.edges[:-1], entry=None
        ).cells


def fit_test(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike,
    planned: ArrayLike,
    *,
    lower: ArrayLike,
    seed: int,
    width: float | None = MONTH,
    draws: int = 199,
) -> FitTest:
    """Test whether a Weibull life follows grouped failures.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Upper ends of the cells; censored units of a row ran to it.
    failures, censored : array_like, shape (A,)
        Units of one segment.
    planned : array_like, shape (A,)
        For every unit, failed ones too, the age at which it would leave by
        cut-off or end of cover: units that would leave at each age.
    lower : array_like, shape (A,)
        Failures of a row lie in (lower, age].
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
        If shapes disagree, a value is negative or not finite, or ``planned``
        counts other units than ``failures`` and ``censored`` do.

    References
    ----------
    .. [1] Lawless (2003), Statistical Models and Methods for Lifetime Data,
       2nd ed., ch. 10.
    .. [2] Davison, Hinkley (1997), Bootstrap Methods and their Application,
       ch. 4.
    """
    age, failed, left = ages_of(ages, failures, censored)
    if failed.ndim != 1:
        raise refuse("failures must be one row", f"shape {failed.shape}")
    leaving = counts_of("planned", planned)
    _refuse_plan(leaving, failed + left)
    floor = counts_of("lower", lower)
    made = prepare(age, failed, left, lower=floor, entry=None)
    cells, table = made.cells, made.failures
    if failed.sum() < MIN_FAILURES:
        return _untested(f"{failed.sum():g} failures, {MIN_FAILURES} needed")
    best = maximise(cells)
    if not best.converged[0]:
        return _untested("no fit to test")
    design = _design(age, floor, leaving, failed > 0, width)
    observed = _counted(design, age, table)
    expected = design.expected(best.k, best.m, cells.unit)
    statistic = float(_distance(observed, expected)[0])
    rng = np.random.default_rng(seed)
    drawn, stayed = _draw(rng, design, (best.k[0], best.m[0], cells.unit), draws)
    tried = np.flatnonzero((drawn > 0).sum(axis=1) >= 2)
    again = design.cells(drawn[tried], stayed[tried])
    refit = maximise(again, np.full(tried.size, best.k[0]))
    sound = np.flatnonzero(refit.converged)
    distances = _distance(
        _counted(design, design.edges[1:], drawn[tried][sound]),
        design.expected(refit.k[sound], refit.m[sound], again.unit),
    )
    # ties by rounding count as exceeding, or p would come out too small
    beyond = int((distances >= statistic * (1.0 - 1e-12)).sum())
    p = (1 + beyond) / (sound.size + 1)
    return FitTest(
        statistic=statistic,
        p=p,
        draws=int(sound.size),
        edges=design.edges[design.coarse],
        observed=observed[0],
        expected=expected[0],
        note=""
        if p >= 0.05
        else "Weibull does not follow these data: read the Kaplan-Meier curve",
    )


def _refuse_plan(leaving: Floats, units: Floats) -> None:
    """Refuse a plan that is not about the same units."""
    if leaving.shape != units.shape:
        raise refuse(
            f"planned must have shape {units.shape}, as ages do",
            f"shape {leaving.shape}",
        )
    if abs(leaving.sum() - units.sum()) > 1e-6 * max(units.sum(), 1.0):
        raise refuse(
            "planned must count every unit, failed ones too",
            f"{leaving.sum():g} planned for {units.sum():g} units",
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


def _design(
    age: Floats,
    floor: Floats,
    leaving: Floats,
    failing: NDArray[np.bool_],
    width: float | None,
) -> _Design:
    """Return the cells of the test and when units would leave."""
    edges = np.unique(
        np.concatenate([[0.0], age[failing], floor[failing], age[leaving > 0]])
    )
    planned = np.zeros(edges.size)
    np.add.at(planned, np.searchsorted(edges, age[leaving > 0]), leaving[leaving > 0])
    coarse = np.arange(edges.size)
    if width is not None:
        if not width > 0:
            raise refuse("width must be above 0", width)
        # the fine edge nearest to each multiple of the width, so that no
        # failure straddles a border
        marks = np.arange(0.0, edges[-1] + width / 2.0, width)
        right = np.clip(np.searchsorted(edges, marks), 1, edges.size - 1)
        nearer = marks - edges[right - 1] < edges[right] - marks
        coarse = np.unique(
            np.concatenate([np.where(nearer, right - 1, right), [0, edges.size - 1]])
        )
    return _Design(edges, planned[1:], coarse)


def _share(k: Floats, m: Floats, log_age: Floats) -> Floats:
    """Return the share failed by each log age, (B, E)."""
    with np.errstate(over="ignore"):
        return -np.expm1(-np.exp(m[:, None] + k[:, None] * log_age))


def _counted(design: _Design, age: Floats, failed: Floats) -> Floats:
    """Return the failures in each coarse cell, (B, C)."""
    borders = design.edges[design.coarse]
    cell = np.searchsorted(borders, age, side="left") - 1
    result = np.zeros((failed.shape[0], borders.size - 1))
    hit = np.flatnonzero((failed > 0).any(axis=0))
    for column in hit:
        result[:, cell[column]] += failed[:, column]
    return result


def _distance(observed: Floats, expected: Floats) -> Floats:
    """Return G for each line."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(observed > 0, observed / expected, 1.0)
    terms = special.xlogy(observed, ratio) - (observed - expected)
    return np.asarray(2.0 * terms.sum(axis=1))


def _draw(
    rng: np.random.Generator,
    design: _Design,
    fitted: tuple[float, float, float],
    draws: int,
) -> tuple[Floats, Floats]:
    """Return simulated failures and survivors by fine cell, each (B, E)."""
    k, m, unit = fitted
    log_age = np.log(design.edges[1:] / unit)
    share = _share(np.array([k]), np.array([m]), log_age)[0]
    whole = np.floor(design.planned)
    size = (draws, whole.size)
    failing = rng.binomial(whole.astype(np.int64), share, size=size)
    # a unit known only by its weight fails as often as its weight says
    failing += rng.poisson((design.planned - whole) * share, size=size)
    per_group = failing.ravel()
    group = np.repeat(np.tile(np.arange(whole.size), draws), per_group)
    draw = np.repeat(np.repeat(np.arange(draws), whole.size), per_group)
    # share failed at the age of failure: uniform below that at leaving
    at = rng.uniform(size=group.size) * share[group]
    cell = np.minimum(np.searchsorted(share, at, side="left"), group)
    failed = np.bincount(draw * whole.size + cell, minlength=draws * whole.size)
    stayed = np.maximum(design.planned - failing, 0.0)
    return failed.reshape(size).astype(np.float64), stayed
