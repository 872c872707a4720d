"""How long units were watched, and the events that fell into it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Occurrences", "Watches"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Watches:
    """Groups of units that were watched over the same stretch of age; (n,) each.

    Parameters
    ----------
    row : ndarray of int
        The population each group belongs to.
    entry_day : ndarray of int
        First day of age that was watched; 0 for the start of life.
    last_day : ndarray of int
        Last day of age that was watched.
    seen_after : ndarray of int
        Days after it within which a report still counts.
    reporting, distance : ndarray of int
        Classes, as in `claimlens.stats.exposure.Chances`.
    n : ndarray of float
        Units, or the weight of a unit that stands at several dates. Below 0 for a
        stretch of early life to be taken away, where it is not known which later
        stretch it belongs to: means are the same, limits a hair wider.
    """

    row: Indices
    entry_day: Indices
    last_day: Indices
    seen_after: Indices
    reporting: Indices
    distance: Indices
    n: Floats

    def take(self, chosen: Indices) -> Watches:
        """Return some of the groups."""
        return Watches(
            row=self.row[chosen],
            entry_day=self.entry_day[chosen],
            last_day=self.last_day[chosen],
            seen_after=self.seen_after[chosen],
            reporting=self.reporting[chosen],
            distance=self.distance[chosen],
            n=self.n[chosen],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Occurrences:
    """Events one by one; arrays of shape (N,).

    Parameters
    ----------
    segment : ndarray of int
        The segment whose event it is.
    unit : ndarray of int
        Which unit, in any numbering; a unit that stands at several possible dates
        has a number for each.
    day : ndarray of int
        Day of age, 0 for the first; within the unit's own watch.
    watch : Watches
        The watch of the event's unit; its ``row`` is not read, its ``n`` is the
        weight of the unit.
    amount : ndarray of float
        What the event counts: 1, or its cost.
    """

    segment: Indices
    unit: Indices
    day: Indices
    watch: Watches
    amount: Floats
