"""Robust variance of mean events: what happened to each unit against what was due.

Private to the room: the functions assume checked arguments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.exposure import Chances
from claimlens.stats.watches import Occurrences, Watches

__all__ = [
    "EventSteps",
    "SeenEvents",
    "by_then",
    "seen_events",
    "steps_of",
    "variance_of",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# weights held at a time: kinds of watch times days of age; about 32 MB
_BLOCK_CELLS = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenEvents:
    """Events that could be seen; arrays of shape (N,)."""

    segment: Indices
    unit: Indices
    day: Indices
    weight: Floats
    amount: Floats
    inverse: Floats
    watch: Watches


@dataclass(frozen=True, slots=True, kw_only=True)
class EventSteps:
    """Days with events of each segment, their rate and their rate per unit."""

    segment: Indices
    day: Indices
    rate: Floats
    slope: Floats


def seen_events(
    occurrences: Occurrences, chances: Chances, watched: Floats, rows: Indices
) -> SeenEvents:
    """Return the events, less those that could not have been seen."""
    watch, day = occurrences.watch, occurrences.day
    left = watch.last_day + watch.seen_after - day
    within = np.clip(left, 0, chances.reported.shape[1] - 1)
    chance = chances.reported[watch.reporting, within]
    chance = chance * chances.covered[watch.distance, day]
    units = watched[rows[occurrences.segment], day]
    kept = (chance > 0) & (units > 0)
    return SeenEvents(
        segment=occurrences.segment[kept],
        unit=occurrences.unit[kept],
        day=day[kept],
        weight=watch.n[kept],
        amount=occurrences.amount[kept],
        inverse=1.0 / units[kept],
        watch=watch.take(np.flatnonzero(kept)),
    )


def steps_of(seen: SeenEvents, watched: Floats, rows: Indices) -> EventSteps:
    """Add up the events of a segment and day."""
    n_days = watched.shape[1]
    label, place = np.unique(seen.segment * n_days + seen.day, return_inverse=True)
    segment, day = label // n_days, label % n_days
    units = watched[rows[segment], day]
    rate = np.bincount(
        place, weights=seen.weight * seen.amount, minlength=label.size
    ) / np.where(units > 0, units, 1.0)
    return EventSteps(segment=segment, day=day, rate=rate, slope=rate / units)


def by_then(day: Indices, days: Indices, values: Floats) -> Floats:
    """Return the values that had come before each of the days, shape (n, K)."""
    return np.where(day[:, None] < days, values[:, None], 0.0)


def variance_of(
    seen: SeenEvents,
    steps: EventSteps,
    groups: Watches,
    chances: Chances,
    *,
    days: Indices,
    rows: Indices,
) -> Floats:
    """Return the squared sum, over units, of what happened less what was due.

    What was due to a unit depends on its watch and its segment alone: the chance of
    each day times the segment's slope, a product of two tables. A unit without an
    event adds due**2; one with events of its own (own - due)**2 in its place.
    """
    kinds, of_group, of_event = _kinds(groups, seen.watch)
    # a line a unit and segment: what happened to it
    pair, first, line = np.unique(
        np.stack([seen.segment, seen.unit]),
        axis=1,
        return_index=True,
        return_inverse=True,
    )
    line = line.reshape(-1)
    own, due = (np.zeros((pair.shape[1], days.size)) for _ in range(2))
    np.add.at(own, line, by_then(seen.day, days, seen.amount * seen.inverse))
    kind_of_line, segment_of_line = of_event[first], seen.segment[first]
    variance = np.zeros((rows.size, days.size))
    active = np.unique(steps.segment)
    by_row = _Places(rows[active], int(rows.max(initial=-1)) + 1)
    group_places = _Places(groups.row, by_row.size)
    line_places = _Places(rows[segment_of_line], by_row.size)
    step = max(1, _BLOCK_CELLS // chances.covered.shape[1])
    for start in range(0, len(kinds), step):
        chance = _chance(kinds[start : start + step], chances)
        for row in np.unique(rows[active]):
            segments = active[by_row.of(row)]
            mine = group_places.of(row)
            mine = mine[_inside(of_group[mine], start, step)]
            lines = line_places.of(row)
            lines = lines[_inside(kind_of_line[lines], start, step)]
            if not mine.size and not lines.size:
                continue
            named, place = np.unique(
                np.concatenate([of_group[mine], kind_of_line[lines]]),
                return_inverse=True,
            )
            slopes = _slopes(steps, segments, days, chance.shape[1])
            table = (chance[named - start] @ slopes).reshape(
                named.size, segments.size, days.size
            )
            n = np.bincount(
                place[: mine.size], weights=groups.n[mine], minlength=named.size
            )
            variance[segments] += np.einsum("u,usk->sk", n, table**2)
            column = np.searchsorted(segments, segment_of_line[lines])
            due[lines] = table[place[mine.size :], column]
    weight = seen.weight[first][:, None]
    np.add.at(variance, segment_of_line, weight * own * (own - 2.0 * due))
    return np.maximum(variance, 0.0)


class _Places:
    """Where the entries of each label stand."""

    def __init__(self, label: Indices, size: int) -> None:
        self.size = size
        self._order = np.argsort(label, kind="stable")
        self._start = np.searchsorted(label[self._order], np.arange(size + 1))

    def of(self, label: int) -> Indices:
        return self._order[self._start[label] : self._start[label + 1]]


def _inside(kind: Indices, start: int, step: int) -> NDArray[np.bool_]:
    return np.asarray((kind >= start) & (kind < start + step))


def _kinds(groups: Watches, units: Watches) -> tuple[Indices, Indices, Indices]:
    """Return the distinct watches, and which of them each group and event has."""
    both = np.concatenate(
        [
            np.stack(
                [
                    one.entry_day,
                    one.last_day,
                    one.seen_after,
                    one.reporting,
                    one.distance,
                ],
                axis=1,
            )
            for one in (groups, units)
        ]
    )
    kinds, kind = np.unique(both, axis=0, return_inverse=True)
    kind = kind.reshape(-1)
    return kinds, kind[: groups.n.size], kind[groups.n.size :]


def _chance(kinds: Indices, chances: Chances) -> Floats:
    """Return the weight of each day of each kind of watch, shape (n, A)."""
    entry, *watched = kinds.T
    chance = chances.weights(*watched)
    chance[np.arange(chance.shape[1]) < entry[:, None]] = 0.0
    return chance


def _slopes(steps: EventSteps, segments: Indices, days: Indices, n_days: int) -> Floats:
    """Return the slopes of some segments up to each age, shape (A, s * K)."""
    start = np.searchsorted(steps.segment, segments, side="left")
    stop = np.searchsorted(steps.segment, segments, side="right")
    table = np.zeros((n_days, segments.size, days.size))
    for column, (left, right) in enumerate(zip(start, stop, strict=True)):
        own = slice(left, right)
        table[steps.day[own], column] = by_then(steps.day[own], days, steps.slope[own])
    return table.reshape(n_days, -1)
