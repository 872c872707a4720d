"""How far units go: a lognormal usage rate from one reading of a unit.

A cover that ends by distance hides the far riders: a failure at age ``a`` is claimed
only if the unit's rate ``r`` has kept it within the limit ``L``, so a rate read then is
a draw from the part of the distribution below ``L / a``. The fit allows for that
truncation [1]_ [2]_. It takes each unit's rate as constant over its life, and the
failure as a matter of age, not of rate.

References
----------
.. [1] Lawless, Hu, Cao (1995), Lifetime Data Anal. 1, 227-240 (usage rates, limits by
   age and distance).
.. [2] Cohen (1959), Technometrics 1, 217-237 (truncated normal samples).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, finite_of, refuse

__all__ = ["UsageFit", "UsageRates", "fit_usage"]

Floats = NDArray[np.float64]

# a spread at these bounds is no estimate: all rates alike, or a tail nobody sees
_SPREAD_BOUNDS = (1e-3, 3.0)
_MOST_STEPS, _HALVINGS = 200, 40


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageRates:
    """Distances a day of a kind of unit: lognormal.

    Parameters
    ----------
    median : float
        Distance a day that half of the units exceed.
    spread : float
        Standard deviation of its natural logarithm.
    """

    median: float
    spread: float

    def share_within(self, ages: ArrayLike, limit: float) -> Floats:
        """Return the share of units that have gone at most ``limit`` by each age.

        Parameters
        ----------
        ages : array_like, shape (n,)
            Days, at least 0.
        limit : float
            Distance above 0.

        Returns
        -------
        ndarray, shape (n,)
            Share, from 1 at age 0 falling towards 0.
        """
        age = finite_of("ages", ages)
        with np.errstate(divide="ignore"):
            rate = np.log(limit) - np.log(age) - np.log(self.median)
        return np.asarray(special.ndtr(rate / self.spread))

    def share_passing(self, distances: ArrayLike, n_days: int) -> Floats:
        """Return the share of units that pass each distance on each day of age.

        Parameters
        ----------
        distances : array_like, shape (m,)
            Above 0.
        n_days : int
            Days of age 0 to ``n_days`` - 1.

        Returns
        -------
        ndarray, shape (m, n_days)
            Each row adds up to at most 1: the share that got so far in time.
        """
        distance = finite_of("distances", distances)
        if (distance <= 0).any():
            raise refuse("distances must be above 0", distance.min())
        # not yet past the distance at the end of day 0, 1, ...
        with np.errstate(divide="ignore"):
            days = np.log(np.arange(n_days + 1.0))
        rate = np.log(distance)[:, None] - days - np.log(self.median)
        return np.asarray(-np.diff(special.ndtr(rate / self.spread), axis=1))

    def tilted(self, power: float) -> UsageRates:
        """Return the rates when each unit counts with its rate to a power.

        Where failures come by distance with Weibull shape k, the rates of units
        that failed are those of all units, each weighted by its rate to the k-th
        power; a lognormal stays one, with its logarithm moved by k spread².
        """
        return UsageRates(
            median=float(self.median * np.exp(power * self.spread**2)),
            spread=self.spread,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageFit:
    """Usage rates with what their estimation tells of them.

    Parameters
    ----------
    rates : UsageRates or None
        None where nothing could be estimated; ``note`` says why.
    n : int
        Readings.
    median_interval, spread_interval : tuple of float
        Normal limits on the logarithms; NaN without an estimate.
    log_median_error, spread_error : float
        Standard errors of ln median and of the spread.
    covariance : ndarray, shape (2, 2)
        Of the errors of ln median and ln spread.
    log_likelihood : float
        Of the logarithms of the rates.
    note : str
        Why there is no estimate, else empty.
    """

    rates: UsageRates | None
    n: int
    median_interval: tuple[float, float] = (np.nan, np.nan)
    spread_interval: tuple[float, float] = (np.nan, np.nan)
    log_median_error: float = np.nan
    spread_error: float = np.nan
    covariance: Floats = field(default_factory=lambda: np.full((2, 2), np.nan))
    log_likelihood: float = np.nan
    note: str = ""


def fit_usage(
    distances: ArrayLike,
    ages: ArrayLike,
    limits: ArrayLike | None = None,
    *,
    confidence: float = 0.95,
    fewest: int = 30,
) -> UsageFit:
    """Fit lognormal usage rates to one reading of each unit.

    Parameters
    ----------
    distances : array_like, shape (n,)
        Distance of each unit when it was read, above 0.
    ages : array_like, shape (n,)
        Its age then, days above 0.
    limits : array_like, shape (n,), optional
        The distance beyond which the reading would not have come in; infinite
        for none. By default none has one.
    confidence : float, default 0.95
        Two-sided level of the intervals.
    fewest : int, default 30
        Readings that a fit needs; at least 3.

    Returns
    -------
    UsageFit
        Maximum likelihood; a reason in place of an estimate where there are too
        few readings, all rates are alike, or the limit cuts off so much that the
        rest of the distribution cannot be told.

    Raises
    ------
    InputError
        If shapes differ, something is not finite or not above 0, or a distance
        lies above its limit.
    """
    level = confidence_of(confidence)
    distance, age = finite_of("distances", distances), finite_of("ages", ages)
    if distance.ndim != 1 or distance.shape != age.shape:
        raise refuse(
            "distances and ages must be rows of one length",
            f"shapes {distance.shape} and {age.shape}",
        )
    limit = np.full(distance.shape, np.inf)
    if limits is not None:
        limit = np.asarray(limits, dtype=np.float64)
    if limit.shape != distance.shape or np.isnan(limit).any():
        raise refuse("limits must be one number a reading", limit.shape)
    for name, values in (("distances", distance), ("ages", age)):
        if (values <= 0).any():
            raise refuse(f"{name} must be above 0", values.min())
    if (distance > limit).any():
        raise refuse("a distance must not exceed its limit", distance.max())
    if distance.size < max(fewest, 3):
        return UsageFit(
            rates=None,
            n=distance.size,
            note=f"{distance.size} readings, {max(fewest, 3)} needed",
        )
    return _fitted(np.log(distance / age), np.log(limit / age), level)


def _fitted(rate: Floats, cut: Floats, level: float) -> UsageFit:
    """Fit a normal distribution to logarithms cut off above ``cut``."""
    spread = float(rate.std())
    if spread < _SPREAD_BOUNDS[0]:
        return UsageFit(rates=None, n=rate.size, note="all usage rates are alike")
    at = _peak(rate, cut)
    value, _, curvature = _likelihood(at, rate, cut)
    if at[1] > np.log(_SPREAD_BOUNDS[1]) - 1e-6 or not _is_peak(curvature):
        return UsageFit(
            rates=None,
            n=rate.size,
            note="the limit hides so many units that their rates cannot be told",
        )
    covariance: Floats = np.linalg.inv(-curvature).astype(np.float64)
    errors = np.sqrt(np.diag(covariance))
    z = float(special.ndtri(0.5 + level / 2))
    low, high = np.exp(at - z * errors), np.exp(at + z * errors)
    return UsageFit(
        rates=UsageRates(median=float(np.exp(at[0])), spread=float(np.exp(at[1]))),
        n=rate.size,
        median_interval=(float(low[0]), float(high[0])),
        spread_interval=(float(low[1]), float(high[1])),
        log_median_error=float(errors[0]),
        spread_error=float(errors[1] * np.exp(at[1])),
        covariance=covariance,
        log_likelihood=value,
    )


def _peak(rate: Floats, cut: Floats) -> Floats:
    """Climb to the peak of the likelihood, or to the bounds of the spread.

    Newton's steps, turned uphill where the surface is not yet a hill, and halved
    until they gain.
    """
    at = np.array([rate.mean(), np.log(rate.std())])
    lowest, highest = np.log(_SPREAD_BOUNDS)
    value, slope, curvature = _likelihood(at, rate, cut)
    for _ in range(_MOST_STEPS):
        if np.abs(slope).max() < 1e-10 * rate.size:
            break
        values, axes = np.linalg.eigh(curvature)
        uphill = axes @ ((axes.T @ slope) / np.maximum(np.abs(values), 1e-8))
        step = uphill * min(1.0, 1.0 / np.abs(uphill).max())
        for _ in range(_HALVINGS):
            tried = at + step
            tried[1] = min(max(tried[1], lowest), highest)
            found = _likelihood(tried, rate, cut)
            if found[0] > value:
                break
            step = step / 2
        else:
            break  # no gain left to be had
        at, (value, slope, curvature) = tried, found
    return at


def _is_peak(curvature: Floats) -> bool:
    return bool(np.linalg.eigvalsh(curvature).max() < 0)


def _likelihood(at: Floats, rate: Floats, cut: Floats) -> tuple[float, Floats, Floats]:
    """Return log-likelihood, gradient and Hessian in (mean, ln spread)."""
    mean, spread = float(at[0]), float(np.exp(at[1]))
    z = (rate - mean) / spread
    is_cut = np.isfinite(cut)
    u = np.where(is_cut, (cut - mean) / spread, 0.0)
    log_below = np.where(is_cut, special.log_ndtr(u), 0.0)
    # Mills' ratio: density over share below, of the readings that can be cut off
    log_density = -0.5 * u**2 - 0.5 * np.log(2 * np.pi)
    mills = np.where(is_cut, np.exp(log_density - log_below), 0.0)
    bend = mills * (u + mills)
    value = float(
        np.sum(-0.5 * z**2 - 0.5 * np.log(2 * np.pi) - np.log(spread) - log_below)
    )
    slope = np.array([np.sum(z + mills) / spread, np.sum(z**2 - 1 + mills * u)])
    mixed = np.sum(-2 * z - mills + bend * u) / spread
    curvature = np.array(
        [
            [np.sum(bend - 1) / spread**2, mixed],
            [mixed, np.sum(-2 * z**2 + bend * u**2 - mills * u)],
        ]
    )
    return value, slope, curvature
