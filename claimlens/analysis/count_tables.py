"""Counts of segments by day of age: failures, and the units that passed each day.

A failure on day ``d`` of service is put at age ``d + 1``, the end of that day; a
unit watched through day ``d`` ran to ``d + 1``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.grouping import Grouping
from claimlens.stats.exposure import Chances, Stays, passed, passed_after
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["DAYS_PER_MONTH", "Counts", "SegmentChunk"]

Floats = NDArray[np.float64]

# units of all rows by age are held at once up to so many cells; about 80 MB a table
_MOST_CELLS = 10_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentChunk:
    """Counts of some segments on the common age grid.

    Parameters
    ----------
    rows : ndarray of int, shape (s,)
        Their places in ``Counts.segments``.
    failures : ndarray, shape (s, a)
        Units with their first failure at each age; failures so recent that less
        than 20 % of their like are reported are left out, as their exposure is.
    exposed : ndarray, shape (s, a)
        Units that passed each age under observation without failing there,
        weighted by the chance that a failure would be known by now and covered.
    watched : ndarray, shape (s, a)
        The same had nobody failed.
    present : ndarray, shape (s, a)
        ``watched`` as if every failure were reported at once.
    planned : ndarray, shape (s, a)
        All units by the age at which they leave whatever happens to them.
    """

    rows: NDArray[np.intp]
    failures: Floats
    exposed: Floats
    watched: Floats
    present: Floats
    planned: Floats

    def oldest(self, ages: Floats) -> Floats:
        """Return the oldest age at which each segment was observed; 0 for never."""
        seen = (self.present > 0) | (self.failures > 0)
        return np.asarray(np.where(seen, ages, 0.0).max(axis=1, initial=0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Segments of a fleet with their failures and watched units.

    Parameters
    ----------
    grouping : Grouping
        What was asked for.
    segments : pandas.DataFrame
        One row per segment, the columns of ``by``; a segment without a failure
        has its row.
    ages : ndarray, shape (a,)
        1, 2, ... days.
    events : pandas.DataFrame
        ``segment, is_first, age, last_day, days_after, reporting, distance,
        is_late, is_known, n, unsure``: failures and repeats. ``is_known`` is false
        for one too recent to conclude from; ``unsure``, added up to an age, is the
        variance of the number that lie below it, for want of in-service dates.
    unit_of_segment : ndarray of int, shape (s,)
        The row of units that each segment rests on.
    stays : Stays
        Stretches of age that the unit rows were watched over; a late entry takes
        away what the unit had passed before.
    planned : ndarray, shape (u, a)
        Units of each row by the age at which they leave whatever happens.
    from_start : ndarray, shape (u, a)
        Those of them that were watched from their first day.
    estimated : ndarray, shape (u,)
        Units whose in-service date is estimated, or that are left out for want
        of one.
    chances : Chances
        Shares reported by days and covered by age.
    """

    grouping: Grouping
    segments: pd.DataFrame
    ages: Floats
    events: pd.DataFrame
    unit_of_segment: NDArray[np.intp]
    stays: Stays
    planned: Floats
    from_start: Floats
    estimated: Floats
    chances: Chances

    @property
    def by(self) -> tuple[str, ...]:
        """Return the keys of the segments, in the order asked for."""
        return self.grouping.names

    @property
    def has_distance_limit(self) -> bool:
        """Tell whether the cover of some unit ends by distance."""
        return len(self.chances.covered) > 1

    def without_distance_limit(self) -> Counts:
        """Return the counts as if cover ended by date only."""
        everywhere = np.ones_like(self.chances.covered)
        return replace(self, chances=replace(self.chances, covered=everywhere))

    def chunks(self, size: int = 1_000) -> Iterator[SegmentChunk]:
        """Yield the count arrays of at most ``size`` segments at a time."""
        # segments of one fleet share its units: these are weighted once
        is_small = self.planned.size <= _MOST_CELLS
        everyone = self._weighted(np.arange(len(self.planned))) if is_small else None
        for start in range(0, len(self.segments), size):
            rows = np.arange(start, min(start + size, len(self.segments)))
            yield self._chunk(rows, everyone)

    def take(self, segments: NDArray[np.intp]) -> SegmentChunk:
        """Return the count arrays of some segments, in that order."""
        return self._chunk(segments, None)

    def _weighted(self, unit_rows: NDArray[np.intp]) -> tuple[Floats, Floats]:
        """Return the units of some rows by age: weighted, and as if all known."""
        number = np.full(self.planned.shape[0], -1, dtype=np.intp)
        number[unit_rows] = np.arange(len(unit_rows))
        mine = self.stays.take(number[self.stays.row] >= 0)
        mine = replace(mine, row=number[mine.row])
        watched = np.maximum(passed(mine, self.chances, len(unit_rows)), 0.0)
        if self.chances.reported.shape[1] == 1:
            return watched, watched
        at_once = Chances(
            reported=np.ones((self.chances.reported.shape[0], 1)),
            covered=self.chances.covered,
        )
        return watched, np.maximum(passed(mine, at_once, len(unit_rows)), 0.0)

    def _chunk(
        self, segments: NDArray[np.intp], everyone: tuple[Floats, Floats] | None
    ) -> SegmentChunk:
        """Return the arrays of some segments; ``everyone`` holds all unit rows."""
        place = self.unit_of_segment[segments]
        if everyone is None:
            unit_rows, place = np.unique(place, return_inverse=True)
            everyone = self._weighted(unit_rows)
        watched, present = everyone
        firsts, failed = self._firsts(segments)
        failures = np.zeros((len(segments), len(self.ages)))
        known = firsts["is_known"].to_numpy()
        np.add.at(
            failures,
            (failed.row[known], firsts["age"].to_numpy()[known] - 1),
            failed.n[known],
        )
        gone = passed_after(
            failed,
            firsts["age"].to_numpy(dtype=np.intp) - 1,
            self.chances,
            len(segments),
        )
        # weights of undated units add up to a hair more or less than 0
        return SegmentChunk(
            rows=segments,
            failures=failures,
            exposed=np.maximum(watched[place] - gone, 0.0),
            watched=watched[place],
            present=present[place],
            planned=self.planned[self.unit_of_segment[segments]],
        )

    def _firsts(self, segments: NDArray[np.intp]) -> tuple[pd.DataFrame, Stays]:
        """Return first failures of some segments, and how long they were planned."""
        firsts = self.events[
            self.events["is_first"] & self.events["segment"].isin(segments)
        ]
        place = np.full(len(self.segments), -1, dtype=np.intp)
        place[segments] = np.arange(len(segments))
        return firsts, Stays(
            row=place[firsts["segment"].to_numpy()],
            last_day=firsts["last_day"].to_numpy(dtype=np.intp),
            seen_after=firsts["days_after"].to_numpy(dtype=np.intp),
            reporting=firsts["reporting"].to_numpy(dtype=np.intp),
            distance=firsts["distance"].to_numpy(dtype=np.intp),
            n=firsts["n"].to_numpy(dtype=np.float64),
        )
