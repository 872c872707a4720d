"""When shipped units came into use, told by the in-service dates that claims carry.

Where nobody keeps a register, no unit has both a ship date and an in-service date.
But of the claims at one age, the in-service dates are spread as the units were that
came into service early enough to reach that age by the cut-off: shipments by day,
delayed by the sales lag. How likely a failure is at that age drops out, so that the
lag can be judged without it (a partial likelihood).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import fft, special

from claimlens.errors import InputError
from claimlens.stats.checks import counts_of, finite_of

__all__ = ["Inflow", "LagFit", "fit_lag", "gamma_lag", "inflow"]

Floats = NDArray[np.float64]

TYPICAL_SHAPE = 1.5
# where claims say little of mean or shape these stay near a common one, by so much on
# the scale of logarithms: common practice, no source
_TYPICAL_MEAN = 75.0
_MEAN_SPREAD = 1.0
_SHAPE_SPREAD = 0.7
_WEEK = 7
# share of in-service dates taken as mistaken, so that one cannot rule out a lag
_MISTAKEN = 0.01
_MEANS = (2.0, 1000.0)
_SHAPES = (0.4, 20.0)
_DROP_95 = 1.9207  # half the 95 % point of chi-squared with one degree of freedom


@dataclass(frozen=True, slots=True, kw_only=True)
class Inflow:
    """Shipments of one kind of unit and the claims that say when theirs began.

    Parameters
    ----------
    shipped : ndarray, shape (D,)
        Units shipped on day 0, 1, ..., D - 1.
    started : ndarray of int, shape (n,)
        Day on which the unit of each claim came into service.
    latest : ndarray of int, shape (n,)
        Last day on which a unit can have come into service that reached the age
        of the claim by the cut-off; at least ``started``.
    """

    shipped: Floats
    started: NDArray[np.int64]
    latest: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LagFit:
    """A gamma-distributed sales lag.

    Parameters
    ----------
    mean_days, lower, upper : float
        Mean lag and its 95 % interval by likelihood ratio; NaN where no claim
        tells one.
    shape : float
        Of the gamma distribution.
    n_claims : int
        Claims that told it.
    note : str
        What a reader must know; else empty.
    """

    mean_days: float
    lower: float
    upper: float
    shape: float
    n_claims: int
    note: str = ""


def gamma_lag(mean_days: float, shape: float = TYPICAL_SHAPE) -> Floats:
    """Return the chance of a lag of 0, 1, ... days for a gamma-distributed lag.

    Parameters
    ----------
    mean_days : float
        At least 0; 0 is no lag at all.
    shape : float, default 1.5
        Above 0.

    Returns
    -------
    ndarray, shape (k,)
        Adds up to 1; runs as far as all but 0.1 % of the units.

    Raises
    ------
    InputError
        If the mean is negative or the shape is not above 0.
    """
    if not (np.isfinite(mean_days) and mean_days >= 0 and shape > 0):
        raise InputError(
            f"A sales lag has a mean of at least 0 days and a shape above 0; got "
            f"{mean_days} and {shape}."
        )
    if mean_days == 0:
        return np.ones(1)
    scale = mean_days / shape
    days = np.arange(int(np.ceil(special.gammaincinv(shape, 0.999) * scale)) + 2)
    chance = np.diff(special.gammainc(shape, days / scale))
    return np.asarray(chance / chance.sum())


def inflow(shipped: ArrayLike, chance: ArrayLike) -> Floats:
    """Return the units that come into service on each day.

    Parameters
    ----------
    shipped : array_like, shape (D,)
        Units shipped on day 0, 1, ...
    chance : array_like, shape (k,)
        Chance of a lag of 0, 1, ... days.

    Returns
    -------
    ndarray, shape (D,)
        Units that come into service on day 0, 1, ..., D - 1, at least 0.
    """
    by_day = finite_of("shipped", shipped)
    lag = counts_of("chance", chance)
    length = fft.next_fast_len(max(by_day.size + lag.size - 1, 1), real=True)
    product = fft.rfft(by_day, length) * fft.rfft(lag, length)
    started: Floats = fft.irfft(product, length)[: by_day.size]
    return np.maximum(started, 0.0)


def fit_lag(
    groups: Sequence[Inflow], *, typical: tuple[float, float] | None = None
) -> LagFit:
    """Estimate a gamma-distributed sales lag from in-service dates of claims.

    Parameters
    ----------
    groups : sequence of Inflow
        Kinds of unit; all have the same lag, each its own risk of failure. The
        finer they are, the more the dates tell of the lag.
    typical : tuple of float, optional
        Mean lag in days near which the estimate stays as far as the claims do not
        tell it, and how near: the standard deviation of its logarithm. By default
        75 days and 1.0.

    Returns
    -------
    LagFit
        NaN with a note where no claim can tell one.

    Notes
    -----
    The log-likelihood of a claim whose unit came into service on day s, at an age
    that only units in service by day b have reached, is ln f(s) - ln F(b), f the
    inflow by day and F its sum: the partial likelihood of Cox, with the age as time
    and the day of entry as the covariate whose frequencies the shipments give.

    References
    ----------
    .. [1] Cox (1975), Biometrika 62, 269-276.
    .. [2] Kalbfleisch, Lawless (1989), J. Am. Stat. Assoc. 84, 360-372.
    """
    told = [group for group in groups if group.started.size and group.shipped.sum() > 0]
    n_claims = sum(group.started.size for group in told)
    if not n_claims:
        return LagFit(
            mean_days=np.nan,
            lower=np.nan,
            upper=np.nan,
            shape=np.nan,
            n_claims=0,
            note="no claim carries an in-service date",
        )

    weeks = _by_week(told)

    def loss(at: Floats) -> float:
        return _loss(weeks, float(at[0]), float(at[1]), typical)

    shortest, longest = (float(np.log(mean)) for mean in _MEANS)
    means = np.linspace(shortest, longest, 16)
    table = np.array([loss(np.array([m, np.log(TYPICAL_SHAPE)])) for m in means])
    best = scipy.optimize.minimize(
        loss,
        np.array([means[table.argmin()], np.log(TYPICAL_SHAPE)]),
        method="Nelder-Mead",
        bounds=[(shortest, longest), tuple(np.log(_SHAPES))],
        options={"xatol": 1e-3, "fatol": 1e-4, "maxiter": 200},
    )
    log_mean, log_shape = float(best.x[0]), float(best.x[1])

    def drop(m: float) -> float:
        # along the mean, the shape as it is best for each
        found = scipy.optimize.minimize_scalar(
            lambda k: _loss(weeks, m, float(k), typical),
            bounds=tuple(np.log(_SHAPES)),
            method="bounded",
            options={"xatol": 1e-2},
        )
        return float(found.fun) - float(best.fun) - _DROP_95

    low, high = (
        _root(drop, log_mean, edge, step)
        for edge, step in ((shortest, -1.0), (longest, 1.0))
    )
    is_open = high is None or low is None
    return LagFit(
        mean_days=float(np.exp(log_mean)),
        lower=_MEANS[0] if low is None else float(np.exp(low)),
        upper=_MEANS[1] if high is None else float(np.exp(high)),
        shape=float(np.exp(log_shape)),
        n_claims=int(n_claims),
        note="the claims' in-service dates hardly tell the sales lag"
        if is_open
        else "",
    )


@dataclass(frozen=True, slots=True)
class _Weeks:
    """Shipments of each kind by week, transformed; and the claims of all kinds."""

    transformed: NDArray[np.complex128]
    n_weeks: int
    length: int
    kind: NDArray[np.intp]
    started: NDArray[np.int64]
    latest: NDArray[np.int64]


def _by_week(groups: Sequence[Inflow]) -> _Weeks:
    """Gather shipments and claims by week; ready for many lags."""
    n_weeks = max(group.shipped.size for group in groups) // _WEEK + 1
    shipped = np.zeros((len(groups), n_weeks))
    for row, group in zip(shipped, groups, strict=True):
        np.add.at(row, np.arange(group.shipped.size) // _WEEK, group.shipped)
    length = fft.next_fast_len(2 * n_weeks, real=True)
    sizes = [group.started.size for group in groups]
    return _Weeks(
        transformed=fft.rfft(shipped, length, axis=1),
        n_weeks=n_weeks,
        length=length,
        kind=np.repeat(np.arange(len(groups)), sizes),
        started=np.concatenate([group.started for group in groups]) // _WEEK,
        latest=np.concatenate([group.latest for group in groups]) // _WEEK,
    )


def _loss(
    weeks: _Weeks,
    log_mean: float,
    log_shape: float,
    typical: tuple[float, float] | None,
) -> float:
    """Return minus the penalised log-likelihood."""
    mean, spread = typical or (_TYPICAL_MEAN, _MEAN_SPREAD)
    total = -0.5 * ((log_shape - np.log(TYPICAL_SHAPE)) / _SHAPE_SPREAD) ** 2
    total -= 0.5 * ((log_mean - np.log(mean)) / spread) ** 2
    shape = float(np.exp(log_shape))
    # a unit leaves on any day of its week: the lag in weeks, over those days
    days = _WEEK * np.arange(weeks.n_weeks + 1)[:, None] - np.arange(_WEEK) - 0.5
    below = special.gammainc(shape, np.maximum(days, 0.0) * shape / np.exp(log_mean))
    chance = np.diff(below.mean(axis=1))
    by_week = fft.irfft(
        weeks.transformed * fft.rfft(chance, weeks.length), weeks.length, axis=1
    )[:, : weeks.n_weeks]
    by_week = np.maximum(by_week, 0.0)
    whole = by_week.sum(axis=1, keepdims=True)
    by_week = np.divide(by_week, whole, out=np.zeros_like(by_week), where=whole > 0)
    by_week = (1.0 - _MISTAKEN) * by_week + _MISTAKEN / weeks.n_weeks
    upto = np.cumsum(by_week, axis=1)
    total += float(
        np.log(by_week[weeks.kind, weeks.started]).sum()
        - np.log(upto[weeks.kind, weeks.latest]).sum()
    )
    return float(-total)


def _root(
    drop: Callable[[float], float], start: float, edge: float, direction: float
) -> float | None:
    """Return where ``drop`` crosses 0 between the start and an edge, else None."""
    inner, width = start, 0.1
    while (edge - inner) * direction > 1e-9:
        outer = inner + direction * min(width, abs(edge - inner))
        if drop(outer) > 0:
            return float(scipy.optimize.brentq(drop, inner, outer, xtol=1e-2))
        inner, width = outer, width * 2
    return None
