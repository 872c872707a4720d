"""Pointwise limits of the share failed, for the probability plot."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.weibull.fitting import WeibullFit
from claimlens.stats.weibull.known import KnownShape
from claimlens.stats.weibull.limits import limits, log_hazard_at
from claimlens.stats.weibull.maximise import Maximum

__all__ = ["band"]

Floats = NDArray[np.float64]


def band(fit: WeibullFit, t: ArrayLike) -> tuple[Floats, Floats]:
    """Return likelihood-ratio limits of the share failed by given ages.

    The limits hold for one age at a time, not for the curve as a whole.

    Parameters
    ----------
    fit : WeibullFit
        Of one segment or several.
    t : array_like, shape (K,)
        Ages of at least 0.

    Returns
    -------
    lower : ndarray, shape (K,) or (S, K)
        Share failed; NaN where the segment has no fit.
    upper : ndarray, shape (K,) or (S, K)
        Share failed; NaN likewise.

    Raises
    ------
    InputError
        If an age is negative or not finite.

    References
    ----------
    .. [1] Meeker, Escobar (1998), Statistical Methods for Reliability Data,
       ch. 8.
    """
    ages = counts_of("t", t)
    if ages.ndim != 1:
        raise refuse("t must be one row of ages", f"shape {ages.shape}")
    cells, best = fit._cells, fit._best
    size = cells.n_segments
    safe = np.where(ages > 0, ages, cells.unit)
    if isinstance(best, KnownShape):
        # a longer scale means fewer failures
        low, high = best.scale_interval()
        with np.errstate(over="ignore"):
            hazards = [
                (safe / scale[:, None]) ** best.shape[:, None] for scale in (high, low)
            ]
    else:
        rows = np.repeat(np.arange(size), ages.size)
        points = np.tile(np.log(safe / cells.unit), size)
        many = Maximum(
            k=best.k[rows],
            m=best.m[rows],
            value=best.value[rows],
            converged=best.converged[rows],
            edge=best.edge[rows],
        )
        logs = limits(cells.take(rows), many, log_hazard_at(points), fit.confidence)
        with np.errstate(over="ignore"):
            hazards = [np.exp(log).reshape(size, ages.size) for log in logs]
    lower, upper = (
        np.where((ages == 0) & np.isfinite(hazard), 0.0, -np.expm1(-hazard))
        for hazard in hazards
    )
    return (lower[0], upper[0]) if fit._single else (lower, upper)
