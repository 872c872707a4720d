"""Mean cumulative number, or cost, of events per unit for many segments at once.

`claimlens.stats.recurrence` takes one list of units. Here the units of a segment come
as groups that were watched alike, and every day of a unit's age is weighted with the
chance that an event on it would be in the data (`claimlens.stats.exposure`). A unit
without an event matters to the variance by its group alone, so a fleet of any size is
some thousands of groups, and only units with events are looked at one by one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, finite_of, refuse
from claimlens.stats.event_variance import by_then, seen_events, steps_of, variance_of
from claimlens.stats.exposure import Chances, Stays, passed
from claimlens.stats.watches import Occurrences, Watches

__all__ = ["Occurrences", "SegmentMeans", "Watches", "mean_by_segment"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentMeans:
    """Mean cumulative events, or amount, of S segments at K ages.

    Parameters
    ----------
    at : ndarray, shape (K,)
        The ages asked for, days.
    mean : ndarray, shape (S, K)
        Events (amount) per unit up to the age; NaN where ``reached`` is false.
    lower, upper : ndarray, shape (S, K)
        mean * exp(-+ z * standard_error / mean). Without an event 0 and a one-sided
        limit; NaN where there is no limit.
    standard_error : ndarray, shape (S, K)
        Robust against units that differ in how prone they are; NaN likewise.
    events, total : ndarray, shape (S, K)
        Weighted number of events behind the mean, and their amounts.
    largest : ndarray, shape (S, K)
        Largest single amount up to the age.
    at_risk : ndarray, shape (S, K)
        Mean weighted units over the last month of age.
    reached : ndarray of bool, shape (S, K)
        Whether some unit was watched on every day up to the age.
    first : ndarray, shape (S,)
        First age at which some unit was watched; infinite for none.
    """

    at: Floats
    mean: Floats
    lower: Floats
    upper: Floats
    standard_error: Floats
    events: Floats
    total: Floats
    largest: Floats
    at_risk: Floats
    reached: NDArray[np.bool_]
    first: Floats

    def take(self, chosen: slice) -> SegmentMeans:
        """Return some of the segments."""
        return SegmentMeans(
            at=self.at,
            mean=self.mean[chosen],
            lower=self.lower[chosen],
            upper=self.upper[chosen],
            standard_error=self.standard_error[chosen],
            events=self.events[chosen],
            total=self.total[chosen],
            largest=self.largest[chosen],
            at_risk=self.at_risk[chosen],
            reached=self.reached[chosen],
            first=self.first[chosen],
        )


def mean_by_segment(
    occurrences: Occurrences,
    watches: Watches,
    chances: Chances,
    at: ArrayLike,
    *,
    row_of_segment: ArrayLike,
    confidence: float = 0.95,
    last_span: float = 30.4375,
) -> SegmentMeans:
    """Estimate the mean cumulative function of many segments at given ages.

    Parameters
    ----------
    occurrences : Occurrences
        All events. An event that could not have been seen (its chance is 0) is left
        out, as the days like it are.
    watches : Watches
        Units by population and stretch of age, those with events included.
    chances : Chances
        What an event must meet to be in the data.
    at : array_like, shape (K,)
        Ages in days, above 0; an event on day d counts for d + 1 and later.
    row_of_segment : array_like of int, shape (S,)
        The population of each segment; several may share one.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    last_span : float, default 30.4375
        Days over which ``at_risk`` is taken.

    Returns
    -------
    SegmentMeans
        Arrays of shape (S, K).

    Raises
    ------
    InputError
        If shapes disagree, an index names nothing, or an event lies outside the
        watch of its unit.

    References
    ----------
    .. [1] Lawless, Nadeau (1995), Technometrics 37, 158-168.
    .. [2] Kalbfleisch, Lawless, Robinson (1991), Technometrics 33, 273-285
       (exposure weighted for late reports).
    """
    level = confidence_of(confidence)
    points = counts_of("at", at)
    if points.ndim != 1 or (points <= 0).any():
        raise refuse("at must be one row of ages above 0", points)
    rows = counts_of("row_of_segment", row_of_segment).astype(np.intp)
    n_rows = int(max(watches.row.max(initial=-1), rows.max(initial=-1))) + 1
    _check(occurrences, watches, chances, n_segments=rows.size)
    watched = _watched(watches, chances, n_rows)
    days = np.minimum(np.floor(points), watched.shape[1]).astype(np.intp)
    seen = seen_events(occurrences, chances, watched, rows)
    steps = steps_of(seen, watched, rows)
    shape = (rows.size, points.size)
    mean, events, total, largest = (np.zeros(shape) for _ in range(4))
    np.add.at(mean, steps.segment, by_then(steps.day, days, steps.rate))
    np.add.at(events, seen.segment, by_then(seen.day, days, seen.weight))
    np.add.at(total, seen.segment, by_then(seen.day, days, seen.weight * seen.amount))
    np.maximum.at(largest, seen.segment, by_then(seen.day, days, np.abs(seen.amount)))
    variance = variance_of(seen, steps, watches, chances, days=days, rows=rows)
    unbroken, first = _watched_through(watched)
    reached = unbroken[rows][:, None] >= points
    error = np.sqrt(np.where(variance > 1e-14 * mean**2, variance, 0.0))
    lower, upper = _limits(mean, error, events, (watched, rows, days, points, level))
    return SegmentMeans(
        at=points,
        mean=np.where(reached, mean, np.nan),
        lower=np.where(reached, lower, np.nan),
        upper=np.where(reached, upper, np.nan),
        standard_error=np.where(reached & (error > 0), error, np.nan),
        events=events,
        total=total,
        largest=largest,
        at_risk=_mean_of_last_span(watched, days, last_span)[rows],
        reached=reached,
        first=first[rows],
    )


def _check(
    occurrences: Occurrences, watches: Watches, chances: Chances, *, n_segments: int
) -> None:
    """Refuse what cannot be."""
    finite_of("amount", occurrences.amount)
    finite_of("n", watches.n)
    counts_of("n", occurrences.watch.n)
    shapes = {
        one.shape for one in (occurrences.segment, occurrences.unit, occurrences.day)
    } | {occurrences.watch.n.shape, occurrences.amount.shape}
    if len(shapes) != 1:
        raise refuse("what describes events must be rows of one length", shapes)
    n_ages = chances.covered.shape[1]
    if watches.n.size and int(watches.last_day.max()) >= n_ages:
        raise refuse(
            f"units must be watched for less than {n_ages} days",
            watches.last_day.max(),
        )
    if not occurrences.day.size:
        return
    if occurrences.segment.min() < 0 or occurrences.segment.max() >= n_segments:
        raise refuse(
            f"segments must lie between 0 and {n_segments - 1}",
            occurrences.segment.max(),
        )
    outside = (occurrences.day < occurrences.watch.entry_day) | (
        occurrences.day > occurrences.watch.last_day
    )
    if outside.any():
        raise refuse(
            "an event must lie within the watch of its unit",
            f"an event on day {occurrences.day[outside][0]}",
        )


def _watched(watches: Watches, chances: Chances, n_rows: int) -> Floats:
    """Return the weighted units on each day of age, shape (R, A)."""
    whole = Stays(
        row=watches.row,
        last_day=watches.last_day,
        seen_after=watches.seen_after,
        reporting=watches.reporting,
        distance=watches.distance,
        n=watches.n,
    )
    total = passed(whole, chances, n_rows)
    late = np.flatnonzero(watches.entry_day > 0)
    if late.size:
        last_before = watches.entry_day[late] - 1
        before = Stays(
            row=watches.row[late],
            last_day=last_before,
            seen_after=watches.seen_after[late] + watches.last_day[late] - last_before,
            reporting=watches.reporting[late],
            distance=watches.distance[late],
            n=watches.n[late],
        )
        total = total - passed(before, chances, n_rows)
    # what is left of a difference of sums of weights after rounding is nobody
    return np.where(total > 1e-9, total, 0.0)


def _watched_through(watched: Floats) -> tuple[Floats, Floats]:
    """Return the age to which every day had somebody, and the first age that had."""
    ages = np.arange(1.0, watched.shape[1] + 1.0)
    some = watched > 0
    unbroken = np.cumprod(some, axis=1).sum(axis=1).astype(np.float64)
    first = np.where(some, ages, np.inf).min(axis=1, initial=np.inf)
    return unbroken, np.asarray(first)


def _mean_of_last_span(watched: Floats, days: Indices, span: float) -> Floats:
    """Return mean units over the last stretch of age before each point, (R, K)."""
    padded = np.pad(np.cumsum(watched, axis=1), ((0, 0), (1, 0)))
    start = np.maximum(days - max(round(span), 1), 0)
    length = np.maximum(days - start, 1)
    return np.asarray((padded[:, days] - padded[:, start]) / length)


def _limits(
    mean: Floats,
    error: Floats,
    events: Floats,
    asked: tuple[Floats, Indices, Indices, Floats, float],
) -> tuple[Floats, Floats]:
    """Return limits on the log scale; one-sided where nothing happened."""
    watched, rows, days, points, level = asked
    z = float(special.ndtri(0.5 + level / 2.0))
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        factor = np.where((mean > 0) & (error > 0), np.exp(z * error / mean), np.nan)
    lower, upper = mean / factor, mean * factor
    quiet = events == 0
    if quiet.any():
        time = np.pad(np.cumsum(watched, axis=1), ((0, 0), (1, 0)))[:, days][rows]
        # events up to the age at the rate whose chance of none is 1 - level
        with np.errstate(divide="ignore"):
            top = np.where(time > 0, points * -np.log1p(-level) / time, np.inf)
        lower, upper = np.where(quiet, 0.0, lower), np.where(quiet, top, upper)
    return lower, upper
