"""Unit-months at risk by month in service, weighted by the chance of seeing a failure.

A unit that has been in service for p days passed the ages 0 to p. A failure at age u is
in the data only if it has been reported since: the chance is G(r - u), where r is the
age at which its reports stop counting (the cut-off, or soon after the end of cover) and
G(x) the share of failures reported within x days [1]_. The exposure of a month in
service is the integral of that chance over the days of the month which the unit passed,
so that a month just begun counts for what it is.

References
----------
.. [1] Kalbfleisch, Lawless, Robinson (1991), Technometrics 33, 273-285.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["DAYS_PER_MONTH", "Watched", "exposed_where_failed", "unit_months"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

DAYS_PER_MONTH = 30.4375
"""Days in a month in service (365.25 / 12)."""

# what a failure of a unit that nothing weighs is set against
_NEXT_TO_NOTHING = 1e-6
# numbers held at a time; about 16 MB an array
_BLOCK_CELLS = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """Groups of units that were watched alike; arrays of shape (n,).

    Parameters
    ----------
    row : ndarray of int
        Where the units are counted.
    from_day, to_day : ndarray of float
        Age in days at which watching began, and at which it ended.
    reported_to : ndarray of float
        Age until which reports count; not below ``to_day``.
    reporting, distance : ndarray of int
        Class of reporting, and of the limit by distance.
    n : ndarray of float
        Units.
    """

    row: Indices
    from_day: Floats
    to_day: Floats
    reported_to: Floats
    reporting: Indices
    distance: Indices
    n: Floats

    def until(self, age: Floats) -> Watched:
        """Return the groups as they stood at an age, those in service by then.

        Parameters
        ----------
        age : ndarray of float, shape (n,)
            Days since the first day in service, that day included; below 1 for
            units that were not in service yet.
        """
        to_day = np.minimum(self.to_day, age)
        inside = to_day > self.from_day
        return Watched(
            row=self.row[inside],
            from_day=self.from_day[inside],
            to_day=to_day[inside],
            reported_to=np.minimum(self.reported_to, age)[inside],
            reporting=self.reporting[inside],
            distance=self.distance[inside],
            n=self.n[inside],
        )


def unit_months(
    watched: Watched,
    *,
    reported: Floats,
    covered: Floats,
    n_rows: int,
    n_months: int,
) -> Floats:
    """Add up weighted unit-months by row and month in service.

    Parameters
    ----------
    watched : Watched
        Who was watched how long.
    reported : ndarray, shape (L, K)
        Of each class of reporting, the share reported within 0, 1, .. K - 1 days;
        the last holds for any longer time.
    covered : ndarray, shape (D, A)
        Of each class of distance limit, the share of units still covered on each
        day of age; taken as constant within a month of service.
    n_rows : int
        Rows R.
    n_months : int
        Months in service M; what lies beyond is left out.

    Returns
    -------
    ndarray, shape (R, M)
        Unit-months.
    """
    total = np.zeros((n_rows, n_months))
    edges = np.arange(n_months + 1) * DAYS_PER_MONTH
    seen = np.cumsum(reported, axis=1)
    seen = np.concatenate([np.zeros((len(seen), 1)), seen], axis=1)
    middle = np.minimum((edges[:-1] + edges[1:]) / 2, covered.shape[1] - 1)
    share = covered[:, middle.astype(np.intp)]
    step = max(1, _BLOCK_CELLS // (n_months + 1))
    for start in range(0, watched.n.size, step):
        block = slice(start, start + step)
        inside = np.clip(
            edges, watched.from_day[block, None], watched.to_day[block, None]
        )
        left = watched.reported_to[block, None] - inside
        reached = _until(seen, reported[:, -1], watched.reporting[block], left)
        months = (reached[:, :-1] - reached[:, 1:]) / DAYS_PER_MONTH
        months *= share[watched.distance[block]] * watched.n[block, None]
        np.add.at(total, watched.row[block], months)
    return total


def _until(seen: Floats, last: Floats, reporting: Indices, days: Floats) -> Floats:
    """Return the integral of the share reported over 0 to ``days``, (n, M + 1)."""
    longest = seen.shape[1] - 1
    within = np.clip(days, 0.0, longest)
    whole = within.astype(np.intp)
    part = within - whole
    here = seen[reporting[:, None], whole]
    after = seen[reporting[:, None], np.minimum(whole + 1, longest)]
    beyond = np.maximum(days - longest, 0.0) * last[reporting][:, None]
    return np.asarray(here + part * (after - here) + beyond)


def exposed_where_failed(exposure: Floats, failures: Floats) -> Floats:
    """Return unit-months that are not negative, and above 0 where there are failures.

    Parameters
    ----------
    exposure, failures : ndarray of one shape
        Unit-months and failures. A failure on a day of which next to nothing is known
        yet has no exposure, and so no rate.

    Returns
    -------
    ndarray
        Of the same shape.
    """
    unknown = (failures > 0) & (exposure <= 0)
    return np.where(unknown, _NEXT_TO_NOTHING, np.maximum(exposure, 0.0))
