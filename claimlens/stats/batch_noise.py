"""Batch-to-batch noise: how much more months of production differ than chance allows.

References
----------
.. [1] McCullagh, Nelder (1989), Generalized Linear Models, 2nd ed., 4.5 and 6.2.
.. [2] Wedderburn (1974), Biometrika 61, 439-447.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.production_counts import ProductionCounts
from claimlens.stats.window_draws import draw_by_class, table

__all__ = ["NOISY", "BatchNoise", "batch_noise"]

Floats = NDArray[np.float64]

NOISY = 1.2
"""From here on a part is called noisy and its noise is allowed for."""

_TRIMMED = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchNoise:
    """Variance of the months' failures over that of Poisson counts.

    Parameters
    ----------
    phi : float
        1 where chance explains the months; else drawn towards 1, and at least 1.
    raw : float
        As the months have it; NaN with fewer than 6 of them.
    p_value : float
        Chance of so large a ``raw`` without noise; NaN with it.
    months : int
        Months that speak: with at least one failure expected.
    """

    phi: float
    raw: float
    p_value: float
    months: int


def batch_noise(
    counts: ProductionCounts,
    *,
    seed: int,
    max_length: int = 6,
    weight: float = 4.0,
    level: float = 0.05,
    draws: int = 99,
) -> BatchNoise:
    """Estimate the batch-to-batch noise of one component.

    A bad window is no noise, yet it would pass for it. So the window of largest
    excess is left out, and of the other months the tenth that differs most. What that
    takes away from months without noise is found by draws, and made up for.

    Parameters
    ----------
    counts : ProductionCounts
        Failures and exposure by month of production, in order.
    seed : int
        Seed of the draws.
    max_length : int, default 6
        Months of the longest window that is left out.
    weight : float, default 4.0
        Months without noise that the estimate is mixed with.
    level : float, default 0.05
        p-value above which chance is taken to explain the months. Else one quiet
        part in six would pass for noisy, and its windows be missed.
    draws : int, default 99
        Draws.

    Returns
    -------
    BatchNoise
        ``phi`` is 1 with fewer than 6 months that speak.
    """
    live = counts.only(counts.produced)
    seen, months = _spread(live, max_length)
    if months < 6:
        return BatchNoise(phi=1.0, raw=np.nan, p_value=np.nan, months=months)
    rng = np.random.Generator(np.random.PCG64(seed))
    plain = [
        _spread(ProductionCounts(failures=drawn, exposure=live.exposure), max_length)[0]
        for drawn in draw_by_class(live, draws, rng)
    ]
    raw = float(seen / np.nanmean(plain))
    p_value = (1 + int((np.array(plain) >= seen).sum())) / (draws + 1)
    mixed = (months * raw + weight) / (months + weight)
    return BatchNoise(
        phi=max(mixed, 1.0) if p_value <= level else 1.0,
        raw=raw,
        p_value=p_value,
        months=months,
    )


def _spread(counts: ProductionCounts, max_length: int) -> tuple[float, int]:
    """Return the mean squared difference in units of chance, and its months."""
    run = np.zeros(counts.observed.size, dtype=np.intp)
    windows = table(counts, run, max_length=max_length, max_share=1.0)
    best = int(np.argmax(windows.excess))
    kept = np.ones(run.size, dtype=bool)
    # without any excess there is no window to leave out
    if windows.excess[best] > 0:
        kept[windows.start[best] : windows.stop[best]] = False
    rest = counts.only(kept)
    expected, variance = rest.expected, rest.variance
    speaks = (expected >= 1.0) & (variance > 0)
    months = int(speaks.sum())
    if not months:
        return np.nan, 0
    square = (rest.observed - expected)[speaks] ** 2 / variance[speaks]
    least = np.sort(square)[: months - int(_TRIMMED * months)]
    return float(least.mean()), months
