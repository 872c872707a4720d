"""What a claim costs on average, from few claims with a heavy tail."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of, finite_of, refuse

__all__ = ["CREDIBILITY", "FEWEST", "MeanCosts", "draw_means", "mean_costs"]

Floats = NDArray[np.float64]
Integers = NDArray[np.intp]

# claims that weigh as much as what is known of the wider group
CREDIBILITY = 20
# with fewer claims a resample is too often one and the same claim
FEWEST = 5
# numbers held at a time, 16 MB
_BLOCK = 2_000_000
# relative spread that is but rounding
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanCosts:
    """Mean cost per claim of each group; money in the unit of the costs.

    Parameters
    ----------
    n : ndarray of int, shape (G,)
        Claims.
    n_zero, n_negative : ndarray of int, shape (G,)
        Claims that cost nothing, and that brought money back; both count.
    total : ndarray, shape (G,)
        Sum of the costs.
    mean : ndarray, shape (G,)
        ``total`` over ``n``; NaN without a claim.
    lower, upper : ndarray, shape (G,)
        Limits of the true mean, from the group's own claims alone; NaN with the
        reason in ``note``.
    weight : ndarray, shape (G,)
        Z = n / (n + 20), the weight of the group's own mean.
    wider_mean : ndarray, shape (G,)
        Mean of all claims of the group's pool, its own among them; NaN where the
        pool has none.
    credible_mean : ndarray, shape (G,)
        Z times ``mean`` plus 1 - Z times ``wider_mean``.
    largest_share : ndarray, shape (G,)
        Largest cost over ``total``, above 1 only where money came back; NaN where
        the total is not above 0.
    note : tuple of str, length G
        Why a group has no limits; else empty.
    """

    n: Integers
    n_zero: Integers
    n_negative: Integers
    total: Floats
    mean: Floats
    lower: Floats
    upper: Floats
    weight: Floats
    wider_mean: Floats
    credible_mean: Floats
    largest_share: Floats
    note: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sample:
    """Costs in order of pool and group.

    Parameters
    ----------
    costs : ndarray, shape (N,)
    present : ndarray of int, shape (H,)
        Groups with a claim, in the order of the costs.
    starts, sizes : ndarray of int, shape (H,)
        Where each of them starts, and its claims.
    pool_of : ndarray of int, shape (G,)
        Place of each group's pool in the two below; -1 where it has no claim.
    pool_starts, pool_sizes : ndarray of int
        Where each pool with a claim starts, and its claims.
    """

    costs: Floats
    present: Integers
    starts: Integers
    sizes: Integers
    pool_of: Integers
    pool_starts: Integers
    pool_sizes: Integers

    def per_group(self, values: Floats, absent: float) -> Floats:
        """Spread values of the groups present over all groups."""
        everywhere = np.full((*values.shape[:-1], self.pool_of.size), absent)
        everywhere[..., self.present] = values
        return everywhere

    def per_pool(self, values: Floats) -> Floats:
        """Give each group the value of its pool; NaN where that has no claim."""
        padded = np.append(values, np.full((*values.shape[:-1], 1), np.nan), axis=-1)
        return np.asarray(padded[..., self.pool_of])


def mean_costs(
    costs: ArrayLike,
    groups: ArrayLike,
    pools: ArrayLike,
    confidence: float = 0.95,
    *,
    rng: np.random.Generator,
    resamples: int = 999,
) -> MeanCosts:
    """Estimate the mean cost per claim of each group.

    The limits are those of the bootstrap-t: how far the means of resamples lie
    from the group's, in standard errors of their own. They take no shape of the
    costs for granted. Limits from the logarithms of the costs hold their level
    better where costs are log-normal and the claims few; where they are not, the
    more claims the surer they miss (``tests/studies/study_severity.py``).

    Parameters
    ----------
    costs : array_like, shape (N,)
        Cost of each claim, in one currency within a pool; costs of 0 and below
        are kept.
    groups : array_like of int, shape (N,)
        Group of each claim, 0 to G - 1.
    pools : array_like of int, shape (G,)
        Pool of each group, from 0: the groups of one pool lean on all its claims.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    rng : Generator
        Seeded source of chance.
    resamples : int, default 999
        Resamples of each group.

    Returns
    -------
    MeanCosts
        Without limits where a group has fewer than 5 claims, or where so few
        cost anything that resamples bound the mean on one side only. Where no
        cost is negative the lower limit is not either.

    Raises
    ------
    InputError
        If shapes disagree, a cost is not finite, a group or pool is not a whole
        number in its range, or the resamples are too few for the level.

    References
    ----------
    .. [1] Davison, Hinkley (1997), Bootstrap Methods and their Application,
       section 5.2.2: the studentised bootstrap.
    .. [2] Klugman, Panjer, Willmot (2012), Loss Models: credibility n / (n + k).
    """
    tail = (1.0 - confidence_of(confidence)) / 2.0
    if not (resamples + 1) * tail >= 1.0 - _ROUNDING:
        raise refuse(
            "resamples must leave one beyond each limit",
            resamples,
            "take at least 2 / (1 - confidence)",
        )
    sample = _sampled(costs, groups, pools)
    n = sample.per_group(sample.sizes.astype(float), 0.0)
    total = sample.per_group(_by(sample.starts, sample.costs), 0.0)
    mean, wider = _means(sample)
    lower, upper = _limits(sample, tail, rng, resamples)
    n_negative = _count(sample, sample.costs < 0)
    lower = np.where(n_negative > 0, lower, np.maximum(lower, 0.0))
    weight = n / (n + CREDIBILITY)
    largest = np.full(n.shape, np.nan)
    if sample.costs.size:
        largest[sample.present] = np.maximum.reduceat(sample.costs, sample.starts)
    return MeanCosts(
        n=n.astype(np.intp),
        n_zero=_count(sample, sample.costs == 0),
        n_negative=n_negative,
        total=total,
        mean=mean,
        lower=lower,
        upper=upper,
        weight=weight,
        wider_mean=wider,
        credible_mean=weight * np.where(n > 0, mean, 0.0) + (1.0 - weight) * wider,
        largest_share=np.divide(
            largest, total, out=np.full(n.shape, np.nan), where=total > 0
        ),
        note=tuple(map(_note, n, np.isnan(lower))),
    )


def draw_means(
    costs: ArrayLike,
    groups: ArrayLike,
    pools: ArrayLike,
    *,
    rng: np.random.Generator,
    draws: int = 4000,
) -> Floats:
    """Draw the true mean cost of each group, as far as its claims tell it.

    The posterior under a Dirichlet process about the pool, worth 20 claims: the
    group's own claims with random weights, the pool's with random weights (the
    same ones), and about the pool's mean a departure as large as that of the mean
    of 21 claims. The share of the group's own mean is a beta variable about
    n / (n + 20), so the draws' mean is ``MeanCosts.credible_mean``. Groups of one
    pool are drawn together: what is not known of the pool they share, so add up
    draws before taking quantiles.

    Parameters
    ----------
    costs, groups, pools : array_like
        As for `mean_costs`.
    rng : Generator
        Seeded source of chance.
    draws : int, default 4000
        Draws, at least 1.

    Returns
    -------
    ndarray, shape (draws, G)
        In the unit of the costs; NaN where the pool has no claim.

    Raises
    ------
    InputError
        As `mean_costs`.

    References
    ----------
    .. [1] Rubin (1981), Ann. Stat. 9, 130-134: the Bayesian bootstrap.
    .. [2] Ferguson (1973), Ann. Stat. 1, 209-230: the Dirichlet process.
    """
    if not draws >= 1:
        raise refuse("draws must be at least 1", draws)
    sample = _sampled(costs, groups, pools)
    size = sample.pool_of.size
    n = sample.per_group(sample.sizes.astype(float), 0.0)
    wider = _means(sample)[1]
    drawn = np.empty((draws, size))
    for rows in _blocks(draws, max(sample.costs.size, size * (CREDIBILITY + 1))):
        chances = rng.standard_exponential((rows.stop - rows.start, sample.costs.size))
        money = chances * sample.costs
        own = _by(sample.starts, money) / _by(sample.starts, chances)
        pooled = _by(sample.pool_starts, money) / _by(sample.pool_starts, chances)
        around = sample.per_pool(pooled)
        near = _departures(sample, rng, len(around))
        # as a ratio, so that costs above 0 keep means above 0
        other = np.where(
            wider > 0,
            around * near / np.where(wider > 0, wider, 1.0),
            around + near - wider,
        )
        mine = rng.standard_gamma(n, around.shape)
        share = mine / (mine + rng.standard_gamma(CREDIBILITY, around.shape))
        drawn[rows] = share * sample.per_group(own, 0.0) + (1.0 - share) * other
    return drawn


def _departures(sample: _Sample, rng: np.random.Generator, rows: int) -> Floats:
    """Return means of 21 claims from each group's pool, shape (rows, G)."""
    known = sample.pool_of >= 0
    near = np.full((rows, known.size), np.nan)
    pool = sample.pool_of[known]
    chosen = rng.random((rows, pool.size, CREDIBILITY + 1))
    places = (chosen * sample.pool_sizes[pool][:, None]).astype(np.intp)
    near[:, known] = sample.costs[places + sample.pool_starts[pool][:, None]].mean(-1)
    return near


def _limits(
    sample: _Sample, tail: float, rng: np.random.Generator, resamples: int
) -> tuple[Floats, Floats]:
    """Return bootstrap-t limits of each group's mean; NaN where there are none."""
    enough = sample.sizes >= FEWEST
    sizes = sample.sizes[enough]
    lower, upper = (np.full(sample.pool_of.size, np.nan) for _ in range(2))
    if not sizes.size:
        return lower, upper
    costs = sample.costs[np.repeat(enough, sample.sizes)]
    starts = np.cumsum(sizes) - sizes
    mean = _by(starts, costs) / sizes
    off = costs - np.repeat(mean, sizes)
    off[np.abs(off) <= _ROUNDING * np.abs(costs)] = 0.0
    variance = _by(starts, off**2) / (sizes - 1)
    first, among = np.repeat(starts, sizes), np.repeat(sizes, sizes)
    ratios = np.empty((resamples, sizes.size))
    for rows in _blocks(resamples, costs.size):
        chosen = rng.random((rows.stop - rows.start, costs.size))
        again = off[first + (chosen * among).astype(np.intp)]
        away = _by(starts, again) / sizes
        spread = (_by(starts, again**2) - sizes * away**2) / (sizes - 1)
        # a resample of one and the same cost: infinitely far, if away at all
        flat = spread <= _ROUNDING * variance
        error = np.sqrt(np.where(flat, 1.0, spread) / sizes)
        ratios[rows] = away / error
        ratios[rows][flat] = np.where(away == 0, 0.0, np.copysign(np.inf, away))[flat]
    ratios.sort(axis=0)
    beyond = int((resamples + 1) * tail + _ROUNDING)
    low, high = ratios[beyond - 1], ratios[resamples - beyond]
    known = np.isfinite(low) & np.isfinite(high)
    error = np.sqrt(variance / sizes)[known]
    place = sample.present[enough][known]
    lower[place] = mean[known] - high[known] * error
    upper[place] = mean[known] - low[known] * error
    return lower, upper


def _means(sample: _Sample) -> tuple[Floats, Floats]:
    """Return the mean of each group and that of its pool."""
    own = _by(sample.starts, sample.costs) / sample.sizes
    pooled = _by(sample.pool_starts, sample.costs) / sample.pool_sizes
    return sample.per_group(own, np.nan), sample.per_pool(pooled)


def _by(starts: Integers, values: Floats) -> Floats:
    """Add up the last axis between starts."""
    if not starts.size:
        return np.empty((*values.shape[:-1], 0))
    return np.asarray(np.add.reduceat(values, starts, axis=-1))


def _count(sample: _Sample, which: NDArray[np.bool_]) -> Integers:
    return sample.per_group(_by(sample.starts, which.astype(float)), 0.0).astype(
        np.intp
    )


def _blocks(rows: int, width: int) -> Iterator[slice]:
    step = max(1, _BLOCK // max(width, 1))
    for start in range(0, rows, step):
        yield slice(start, min(start + step, rows))


def _note(n: float, unbounded: bool) -> str:
    if not unbounded:
        return ""
    if n < FEWEST:
        return f"{n:.0f} claims, {FEWEST} needed for limits"
    return "too few claims of different cost for limits"


def _sampled(costs: ArrayLike, groups: ArrayLike, pools: ArrayLike) -> _Sample:
    money, group = finite_of("costs", costs), finite_of("groups", groups)
    pool = finite_of("pools", pools)
    if money.ndim != 1 or money.shape != group.shape or pool.ndim != 1:
        raise refuse(
            "costs and groups must have one shape (N,), and pools shape (G,)",
            f"shapes {money.shape}, {group.shape}, {pool.shape}",
        )
    for name, value, most in (("groups", group, pool.size), ("pools", pool, np.inf)):
        bad = (value < 0) | (value >= most) | (value % 1 != 0)
        if bad.any():
            raise refuse(
                f"{name} must be whole numbers from 0"
                + (f" to {most - 1}" if np.isfinite(most) else ""),
                value[bad][0],
            )
    group, pool = group.astype(np.intp), pool.astype(np.intp)
    order = np.lexsort((group, pool[group]))
    n = np.bincount(group, minlength=pool.size)
    present = np.lexsort((np.arange(pool.size), pool))
    present = present[n[present] > 0]
    sizes = n[present]
    held, pool_sizes = np.unique(pool[group], return_counts=True)
    place = np.full(pool.max(initial=-1) + 1, -1)
    place[held] = np.arange(held.size)
    return _Sample(
        costs=money[order],
        present=present,
        starts=np.cumsum(sizes) - sizes,
        sizes=sizes,
        pool_of=place[pool],
        pool_starts=np.cumsum(pool_sizes) - pool_sizes,
        pool_sizes=pool_sizes,
    )
