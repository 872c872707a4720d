"""Mean cumulative number (or cost) of events per unit by age.

Unlike the share failed, it counts every event: a failure does not end the
observation of its unit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, finite_of, refuse

__all__ = ["MeanCumulative", "mean_cumulative"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# cells of one pass over the units with events; about 32 MB
_CHUNK_CELLS = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanCumulative:
    """A mean cumulative function: a step at each age with an event.

    Parameters
    ----------
    ages : ndarray, shape (A,)
        Distinct ages of events, rising. Without an event a single one: the
        greatest age under observation.
    mean, lower, upper : ndarray, shape (A,)
        Events (or weight) per unit up to and with the age, and its limits.
    standard_error : ndarray, shape (A,)
        Robust: units may differ in how prone they are.
    at_risk : ndarray, shape (A,)
        Units under observation at the age.
    end : float
        Greatest age under observation.
    note : str
        What is to be said of the limits; else empty.
    """

    ages: Floats
    mean: Floats
    lower: Floats
    upper: Floats
    standard_error: Floats
    at_risk: Floats
    end: float
    note: str

    def at(self, t: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Return mean and limits at given ages.

        Parameters
        ----------
        t : array_like, shape (K,)
            Ages.

        Returns
        -------
        mean : ndarray, shape (K,)
            0 before the first event; NaN beyond the greatest age under
            observation.
        lower : ndarray, shape (K,)
            Lower limit; NaN outside the ages with a step behind them.
        upper : ndarray, shape (K,)
            Upper limit; NaN likewise.
        """
        points = counts_of("t", t)
        place = np.searchsorted(self.ages, points, side="right") - 1
        before, beyond = place < 0, points > self.end
        inside = np.maximum(place, 0)
        mean = np.where(before, 0.0, self.mean[inside])
        mean = np.where(beyond, np.nan, mean)
        hidden = before | beyond
        return (
            mean,
            np.where(hidden, np.nan, self.lower[inside]),
            np.where(hidden, np.nan, self.upper[inside]),
        )


def mean_cumulative(
    event_ages: ArrayLike,
    event_units: ArrayLike,
    unit_ends: ArrayLike,
    *,
    unit_entries: ArrayLike | None = None,
    weights: ArrayLike | None = None,
    confidence: float = 0.95,
) -> MeanCumulative:
    """Estimate the mean cumulative function with robust limits.

    Parameters
    ----------
    event_ages : array_like, shape (N,)
        Age of its unit at each event, in any order.
    event_units : array_like of int, shape (N,)
        Which unit, as a position in ``unit_ends``.
    unit_ends : array_like, shape (U,)
        Age of each unit at the end of its observation; events at that age
        count.
    unit_entries : array_like, shape (U,), optional
        Age of each unit at the start of its observation; under observation
        means entry < age <= end. 0, the start of life, unless given.
    weights : array_like, shape (N,), optional
        What each event counts, such as its cost; 1 unless given.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    MeanCumulative
        Limits are mean * exp(-+ z * se / mean). Without an event the upper
        limit is one-sided. Where weights bring the mean to 0 or below, or
        all units have had the same, the limits are NaN.

    Raises
    ------
    InputError
        If shapes disagree, an event names no unit or lies outside its unit's
        observation, or something is negative or not finite.

    References
    ----------
    .. [1] Lawless, Nadeau (1995), Technometrics 37, 158-168.
    .. [2] Nelson (2003), Recurrent Events Data Analysis, SIAM.
    """
    level = confidence_of(confidence)
    ends = counts_of("unit_ends", unit_ends)
    if ends.ndim != 1 or ends.size == 0:
        raise refuse(
            "unit_ends must be one row of at least one unit", f"shape {ends.shape}"
        )
    entries = _entries(unit_entries, ends)
    age, unit, weight = _events(event_ages, event_units, weights, (entries, ends))
    if age.size == 0:
        return _without_events(entries, ends, level)
    ages, step = np.unique(age, return_inverse=True)
    at_risk = _under_observation(ages, entries, ends)
    total = np.bincount(step, weights=weight, minlength=ages.size)
    rate = total / at_risk
    mean = np.cumsum(rate)
    slope = np.cumsum(rate / at_risk)
    variance = _variance_of_quiet(ages, slope, unit, (entries, ends))
    variance += _variance_of_eventful(
        (ages, slope, at_risk), (unit, step, weight), (entries, ends)
    )
    # rounding leaves about 1e-16 of the squared mean where units are all alike
    error = np.sqrt(np.where(variance > 1e-14 * mean**2, variance, 0.0))
    z = float(special.ndtri(0.5 + level / 2.0))
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        factor = np.where((mean > 0) & (error > 0), np.exp(z * error / mean), np.nan)
    return MeanCumulative(
        ages=ages,
        mean=mean,
        lower=mean / factor,
        upper=mean * factor,
        standard_error=error,
        at_risk=at_risk,
        end=float(ends.max()),
        note=_note(mean, error),
    )


def _note(mean: Floats, error: Floats) -> str:
    """Return why some limits are missing; empty if none is."""
    if not (mean > 0).all():
        return "no limits where the mean is not above 0"
    if not (error > 0).all():
        # a variance between units of 0 is a lack of data, not certainty
        return "no limits where all units have had the same events"
    return ""


def _entries(unit_entries: ArrayLike | None, ends: Floats) -> Floats:
    """Return entries; minus infinity for a unit seen from the start of life."""
    if unit_entries is None:
        return np.full(ends.size, -np.inf)
    entries = counts_of("unit_entries", unit_entries)
    if entries.shape != ends.shape:
        raise refuse(
            f"unit_entries must have shape {ends.shape}, as unit_ends do",
            f"shape {entries.shape}",
        )
    bad = (entries > 0) & (entries >= ends)
    if bad.any():
        raise refuse(
            "unit_entries must be below unit_ends",
            f"entry {entries[bad][0]:g}, end {ends[bad][0]:g}",
        )
    return np.where(entries > 0, entries, -np.inf)


def _events(
    event_ages: ArrayLike,
    event_units: ArrayLike,
    weights: ArrayLike | None,
    span: tuple[Floats, Floats],
) -> tuple[Floats, Indices, Floats]:
    """Return checked ages, units and weights of the events."""
    entries, ends = span
    age = counts_of("event_ages", event_ages)
    named = counts_of("event_units", event_units)
    weight = np.ones(age.shape) if weights is None else finite_of("weights", weights)
    if age.ndim != 1 or named.shape != age.shape or weight.shape != age.shape:
        raise refuse(
            "event_ages, event_units and weights must be rows of one length",
            f"shapes {age.shape}, {named.shape}, {weight.shape}",
        )
    unit = named.astype(np.intp)
    strange = (unit != named) | (unit >= ends.size)
    if strange.any():
        raise refuse(
            f"event_units must be positions from 0 to {ends.size - 1}",
            named[strange][0],
        )
    outside = (age > ends[unit]) | (age <= entries[unit])
    if outside.any():
        raise refuse(
            "an event must lie within the observation of its unit",
            f"event at age {age[outside][0]:g} of unit {unit[outside][0]}",
        )
    return age, unit, weight


def _under_observation(ages: Floats, entries: Floats, ends: Floats) -> Floats:
    """Return the units with entry < age <= end at each age."""
    gone = np.searchsorted(np.sort(ends), ages, side="left")
    come = np.searchsorted(np.sort(entries), ages, side="left")
    return (come - gone).astype(np.float64)


def _slopes_at(ages: Floats, slope: Floats, points: Floats) -> Floats:
    """Return sum of dN / n**2 up to and with each point."""
    padded = np.concatenate([[0.0], slope])
    return np.asarray(padded[np.searchsorted(ages, points, side="right")])


def _variance_of_quiet(
    ages: Floats, slope: Floats, unit: Indices, span: tuple[Floats, Floats]
) -> Floats:
    """Return what units without events add to the variance at each age.

    Their term depends on entry and end alone, so running sums over the sorted
    ages do for any number of units.
    """
    entries, ends = span
    quiet = np.ones(ends.size, dtype=bool)
    quiet[unit] = False
    start = _slopes_at(ages, slope, entries[quiet])
    stop = _slopes_at(ages, slope, ends[quiet])
    by_entry, by_end = np.argsort(entries[quiet]), np.argsort(ends[quiet])
    come = np.searchsorted(entries[quiet][by_entry], ages, side="left")
    gone = np.searchsorted(ends[quiet][by_end], ages, side="left")

    def running(values: Floats, order: Indices, count: Indices) -> Floats:
        return np.asarray(
            np.concatenate([[0.0], np.cumsum(values[order])])[count], dtype=np.float64
        )

    finished = running((stop - start) ** 2, by_end, gone)
    number = come - gone
    first = running(start, by_entry, come) - running(start, by_end, gone)
    second = running(start**2, by_entry, come) - running(start**2, by_end, gone)
    present = number * slope**2 - 2.0 * slope * first + second
    return finished + np.maximum(present, 0.0)


def _variance_of_eventful(
    steps: tuple[Floats, Floats, Floats],
    events: tuple[Indices, Indices, Floats],
    span: tuple[Floats, Floats],
) -> Floats:
    """Return what units with events add to the variance at each age."""
    (ages, slope, at_risk), (unit, step, weight) = steps, events
    entries, ends = span
    named, position = np.unique(unit, return_inverse=True)
    order = np.argsort(position, kind="stable")
    position, step, weight = position[order], step[order], weight[order]
    variance = np.zeros(ages.size)
    block = max(1, _CHUNK_CELLS // ages.size)
    for first in range(0, named.size, block):
        units = named[first : first + block]
        left = np.searchsorted(position, first)
        right = np.searchsorted(position, first + units.size)
        part = slice(left, right)
        own = np.zeros((units.size, ages.size))
        place = (position[part] - first, step[part])
        np.add.at(own, place, weight[part] / at_risk[step[part]])
        own = np.cumsum(own, axis=1)
        stop = _slopes_at(ages, slope, ends[units])
        start = _slopes_at(ages, slope, entries[units])
        due = np.minimum(slope, stop[:, None]) - start[:, None]
        seen = ages > entries[units][:, None]
        variance += ((own - np.where(seen, due, 0.0)) ** 2).sum(axis=0)
    return variance


def _without_events(entries: Floats, ends: Floats, level: float) -> MeanCumulative:
    """Return the function without a step, with a one-sided upper limit."""
    end = float(ends.max())
    exposure = float((ends - np.maximum(entries, 0.0)).sum())
    # events per unit up to the end at the rate whose chance of none is 1 - level
    top = end * -np.log1p(-level) / exposure if exposure > 0 else np.inf
    return MeanCumulative(
        ages=np.array([end]),
        mean=np.zeros(1),
        lower=np.zeros(1),
        upper=np.array([top]),
        standard_error=np.full(1, np.nan),
        at_risk=_under_observation(np.array([end]), entries, ends),
        end=end,
        note="no event: one-sided upper limit",
    )
