"""Rates of many groups, drawn towards each other by as much as chance explains.

The count of a group is Poisson with mean theta * expected; theta is gamma
with mean 1 over the groups, and its spread is learned from all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, refuse

__all__ = ["ShrunkRatios", "posterior_rate", "shrink", "spread_of"]

Floats = NDArray[np.float64]

ALPHA_RANGE = (0.3, 500.0)
"""Bounds of the gamma shape: below, no pooling at all; above, no difference."""
FEW_GROUPS = 5
ALPHA_OF_FEW = 4.0
_GRID = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class ShrunkRatios:
    """Ratio of observed to expected for each group, drawn towards 1.

    Parameters
    ----------
    alpha : float
        Shape of the gamma: large where the groups hardly differ.
    ratio, lower, upper : ndarray, shape (G,)
        Posterior mean and limits; NaN where nothing is expected.
    rank_lower, rank_upper : ndarray of int, shape (G,)
        Limits of the rank, 1 for the highest ratio; 0 where nothing is
        expected.
    note : str
        What is to be said of the spread; else empty.
    """

    alpha: float
    ratio: Floats
    lower: Floats
    upper: Floats
    rank_lower: NDArray[np.int64]
    rank_upper: NDArray[np.int64]
    note: str


def shrink(
    observed: ArrayLike,
    expected: ArrayLike,
    *,
    seed: int,
    confidence: float = 0.90,
    draws: int = 4000,
) -> ShrunkRatios:
    """Shrink observed / expected of many groups towards 1.

    Parameters
    ----------
    observed : array_like, shape (G,)
        Events of each group.
    expected : array_like, shape (G,)
        Events expected of it at the pooled rate, given its ages. A group
        with neither is left out; events where none can be are refused.
    seed : int
        Seed of the draws behind the rank limits.
    confidence : float, default 0.90
        Two-sided level, strictly between 0 and 1.
    draws : int, default 4000
        Draws behind the rank limits.

    Returns
    -------
    ShrunkRatios
        The ratio uses the most likely spread; its limits are averaged over
        all spreads, so that they also hold what is not known of it. Below 5
        groups the spread is set, not learned.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, or a group has
        events and expects none.

    References
    ----------
    .. [1] Robbins (1956), Proc. 3rd Berkeley Symp. 1, 157-163.
    .. [2] Clayton, Kaldor (1987), Biometrics 43, 671-681.
    """
    level = confidence_of(confidence)
    o, e = counts_of("observed", observed), counts_of("expected", expected)
    if o.ndim != 1 or o.shape != e.shape:
        raise refuse(
            "observed and expected must be rows of one length",
            f"shapes {o.shape} and {e.shape}",
        )
    if ((e == 0) & (o > 0)).any():
        raise refuse(
            "a group with events must expect some",
            f"{o[(e == 0) & (o > 0)][0]:g} events where 0 are expected",
        )
    used = np.flatnonzero(e > 0)
    few = used.size < FEW_GROUPS
    grid = np.linspace(np.log(ALPHA_RANGE[0]), np.log(ALPHA_RANGE[1]), _GRID)
    if few:
        grid = np.array([np.log(ALPHA_OF_FEW)])
    alpha = spread_of(o[used], e[used])
    weight = _weights(grid, o[used], e[used])
    tail = (1.0 - level) / 2.0
    low, high = (
        _mixture_quantile(q, grid, weight, o[used], e[used]) for q in (tail, 1.0 - tail)
    )
    ranks = _ranks(
        np.random.default_rng(seed), (grid, weight), (o[used], e[used]), draws, tail
    )

    def spread(values: Floats) -> Floats:
        full = np.full(o.size, np.nan)
        full[used] = values
        return full

    places = np.zeros((2, o.size), dtype=np.int64)
    places[:, used] = ranks
    return ShrunkRatios(
        alpha=alpha,
        ratio=spread((alpha + o[used]) / (alpha + e[used])),
        lower=spread(low),
        upper=spread(high),
        rank_lower=places[0],
        rank_upper=places[1],
        note=f"fewer than {FEW_GROUPS} groups: their spread is assumed, not learned"
        if few
        else "",
    )


def spread_of(observed: ArrayLike, expected: ArrayLike) -> float:
    """Return the gamma shape that makes the counts of all groups most likely.

    Parameters
    ----------
    observed, expected : array_like, shape (G,)
        Events, and those expected at the pooled rate, above 0.

    Returns
    -------
    float
        From 0.3, groups of their own, to 500, groups alike; 4 below 5 groups.

    Raises
    ------
    InputError
        If a value is negative or not finite.
    """
    o, e = counts_of("observed", observed), counts_of("expected", expected)
    return ALPHA_OF_FEW if o.size < FEW_GROUPS else _best_alpha(o, e)


def posterior_rate(
    events: ArrayLike,
    exposure: ArrayLike,
    shape: float,
    rate: float,
    confidence: float = 0.95,
) -> tuple[Floats, Floats, Floats]:
    """Return the rate of events under a gamma prior, with its limits.

    Parameters
    ----------
    events, exposure : array_like, shape (G,)
        Poisson counts and their exposures.
    shape, rate : float
        The gamma prior; its mean is shape / rate.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    mean : ndarray, shape (G,)
        Events per unit of exposure.
    lower : ndarray, shape (G,)
        Lower limit.
    upper : ndarray, shape (G,)
        Upper limit.

    Raises
    ------
    InputError
        If a value is negative or not finite, or prior and data together say
        nothing.

    References
    ----------
    .. [1] Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., ch. 2.
    """
    a = counts_of("events", events) + counts_of("shape", shape)
    b = counts_of("exposure", exposure) + counts_of("rate", rate)
    if (a <= 0).any() or (b <= 0).any():
        raise refuse(
            "events + shape and exposure + rate must be above 0",
            f"{float(np.min(a)):g} and {float(np.min(b)):g}",
        )
    tail = (1.0 - confidence_of(confidence)) / 2.0
    return (
        np.asarray(a / b),
        np.asarray(special.gammaincinv(a, tail) / b),
        np.asarray(special.gammaincinv(a, 1.0 - tail) / b),
    )


def _log_likelihood(log_alpha: Floats, o: Floats, e: Floats) -> Floats:
    """Return the marginal log-likelihood at each ln alpha, up to a constant."""
    a = np.exp(log_alpha)[:, None]
    terms = (
        special.gammaln(a + o)
        - special.gammaln(a)
        + a * np.log(a / (a + e))
        - o * np.log(a + e)
    )
    return np.asarray(terms.sum(axis=1))


def _best_alpha(o: Floats, e: Floats) -> float:
    """Return the alpha of greatest marginal likelihood, within its bounds."""
    low, high = np.log(ALPHA_RANGE)
    # the surface is flat far out: a coarse look first, then a fine one
    coarse = np.linspace(low, high, _GRID)
    top = int(np.argmax(_log_likelihood(coarse, o, e)))
    span = coarse[max(top - 1, 0)], coarse[min(top + 1, _GRID - 1)]
    found = scipy.optimize.minimize_scalar(
        lambda x: -float(_log_likelihood(np.array([x]), o, e)[0]),
        bounds=span,
        method="bounded",
        options={"xatol": 1e-9},
    )
    return float(np.exp(found.x))


def _weights(grid: Floats, o: Floats, e: Floats) -> Floats:
    """Return the weight of each alpha: likelihood times alpha**(-1/2).

    The second factor is a flat prior on the spread of the groups.
    """
    log = _log_likelihood(grid, o, e) - 0.5 * grid
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum())


def _mixture_quantile(
    q: float, grid: Floats, weight: Floats, o: Floats, e: Floats
) -> Floats:
    """Return the quantile of each group, mixed over alpha, by halving."""
    # what has no weight only costs time
    counted = weight > 1e-10
    a, weight = np.exp(grid[counted])[:, None], weight[counted]
    parts = special.gammaincinv(a + o, q) / (a + e)
    low, high = parts.min(axis=0), parts.max(axis=0)
    for _ in range(45):
        middle = 0.5 * (low + high)
        below = special.gammainc(a + o, middle * (a + e))
        reached = np.einsum("a,ag->g", weight, below) >= q
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return np.asarray(0.5 * (low + high))


def _ranks(
    rng: np.random.Generator,
    spread: tuple[Floats, Floats],
    data: tuple[Floats, Floats],
    draws: int,
    tail: float,
) -> NDArray[np.int64]:
    """Return the limits of each group's rank, 1 for the highest."""
    (grid, weight), (o, e) = spread, data
    a = np.exp(rng.choice(grid, size=draws, p=weight))[:, None]
    ratios = rng.gamma(a + o, 1.0 / (a + e))
    ranks = (-ratios).argsort(axis=1).argsort(axis=1) + 1
    if o.size == 0:
        return np.zeros((2, 0), dtype=np.int64)
    ends = np.quantile(ranks, [tail, 1.0 - tail], axis=0, method="inverted_cdf")
    return np.asarray(ends, dtype=np.int64)
