"""Units that passed each day of age, weighted by the chance of seeing a failure.

A unit that was watched through day ``p`` of its life passed the days 0 to ``p``. A
failure on day ``d`` would be in the data only if it has been reported by now, within
``p + s - d`` days, where ``s`` is how long after its last day a report still counts;
and, where cover ends by distance, only if the unit was still covered on that day. The
product of both chances is the weight of the unit's day [1]_. Weighting exposure, not
failures, keeps the failures whole numbers.

References
----------
.. [1] Kalbfleisch, Lawless, Robinson (1991), Technometrics 33, 273-285.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from claimlens.stats.checks import refuse

__all__ = ["Chances", "Stays", "passed", "passed_after"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# weights held at a time: stretches of stays times days of age; about 32 MB
_BLOCK_CELLS = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """What a failure must meet to be in the data.

    Parameters
    ----------
    reported : ndarray, shape (L, K)
        Of each class of reporting, the share reported within 0, 1, ... K - 1 days;
        the last holds for any longer time.
    covered : ndarray, shape (D, A)
        Of each class of distance limit, the share of units still covered on each
        day of age.
    """

    reported: Floats
    covered: Floats

    def weights(
        self,
        last_day: Indices,
        seen_after: Indices,
        reporting: Indices,
        distance: Indices,
    ) -> Floats:
        """Return the weight of every day of age of n stays, shape (n, A).

        The arguments, each of shape (n,), are those of `Stays`.
        """
        n_days, longest = self.covered.shape[1], self.reported.shape[1] - 1
        # the days that are left get fewer from day to day: a stretch of the shares read
        # backwards, with as many of either end as may be asked for
        backwards = np.concatenate(
            [
                np.repeat(self.reported[:, -1:], n_days, axis=1),
                self.reported[:, ::-1],
                np.repeat(self.reported[:, :1], n_days, axis=1),
            ],
            axis=1,
        )
        stretches = sliding_window_view(backwards, n_days, axis=1)
        left = np.clip(last_day + seen_after, -1, n_days + longest)
        chance = stretches[reporting, n_days + longest - left]
        if len(self.covered) > 1 or not (self.covered == 1.0).all():
            chance *= self.covered[distance]
        for place, day in enumerate(last_day.tolist()):
            chance[place, max(day + 1, 0) :] = 0.0
        return np.asarray(chance)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stays:
    """Groups of units that were watched alike; arrays of shape (n,).

    Parameters
    ----------
    row : ndarray of int
        The segment each belongs to.
    last_day : ndarray of int
        Last day of age that was watched; -1 for none.
    seen_after : ndarray of int
        Days after it within which a report still counts.
    reporting, distance : ndarray of int
        Classes, as in `Chances`.
    n : ndarray of float
        Units; below 0 for a stretch that is to be taken away.
    """

    row: Indices
    last_day: Indices
    seen_after: Indices
    reporting: Indices
    distance: Indices
    n: Floats

    def take(self, chosen: NDArray[np.bool_] | Indices) -> Stays:
        """Return some of the stays."""
        return Stays(
            row=self.row[chosen],
            last_day=self.last_day[chosen],
            seen_after=self.seen_after[chosen],
            reporting=self.reporting[chosen],
            distance=self.distance[chosen],
            n=self.n[chosen],
        )


def passed(stays: Stays, chances: Chances, n_rows: int) -> Floats:
    """Add up the units that passed each day of age, weighted.

    Parameters
    ----------
    stays : Stays
        Who was watched how long.
    chances : Chances
        What a failure must meet to be seen.
    n_rows : int
        Segments R.

    Returns
    -------
    ndarray, shape (R, A)
        Weighted units on each day.

    Raises
    ------
    InputError
        If a row lies outside 0 to R - 1, or a stay is longer than A days.
    """
    return _added(stays, np.zeros(stays.n.size, dtype=np.intp), chances, n_rows)


def passed_after(
    stays: Stays, failed_on: Indices, chances: Chances, n_rows: int
) -> Floats:
    """Add up what failed units would have passed from their failure on.

    A known failure was reported and covered: it stands for all failures of its day,
    hidden ones too, and leaves with the weight of the later day over that of its own.
    With the weight of the later day alone, the units whose failures are not reported
    yet, or lay beyond a limit by distance, would stay at risk. On the day itself it
    weighs what the day weighs, so that no small group is used up by one failure.

    Parameters
    ----------
    stays : Stays
        How long the units would have been watched.
    failed_on : ndarray of int, shape (n,)
        Day of age of each failure.
    chances, n_rows
        As for `passed`.

    Returns
    -------
    ndarray, shape (R, A)
        To be taken from `passed`, so that the units that failed leave on the day
        of their failure.

    Raises
    ------
    InputError
        As `passed`.
    """
    return _added(stays, failed_on, chances, n_rows, seen_then=True)


def _added(
    stays: Stays,
    from_day: Indices,
    chances: Chances,
    n_rows: int,
    *,
    seen_then: bool = False,
) -> Floats:
    """Add up weighted stays from a day of age on, of units seen on it or of all."""
    n_ages = chances.covered.shape[1]
    total = np.zeros((n_rows, n_ages))
    if not stays.n.size:
        return total
    if stays.row.min() < 0 or stays.row.max() >= n_rows:
        raise refuse(f"rows must lie between 0 and {n_rows - 1}", stays.row.max())
    if stays.last_day.max() >= n_ages:
        raise refuse(f"stays must be shorter than {n_ages} days", stays.last_day.max())
    # many units share one stretch: the weights are made once for each
    longest = chances.reported.shape[1] - 1
    kinds = np.stack(
        [
            stays.last_day,
            np.minimum(stays.seen_after, longest),
            stays.reporting,
            stays.distance,
            from_day,
        ],
        axis=1,
    )
    distinct, kind = np.unique(kinds, axis=0, return_inverse=True)
    shape = (n_rows, len(distinct))
    units = scipy.sparse.csc_array(
        scipy.sparse.coo_array((stays.n, (stays.row, kind.reshape(-1))), shape=shape)
    )
    step = max(1, _BLOCK_CELLS // n_ages)
    for start in range(0, len(distinct), step):
        block = distinct[start : start + step]
        weights = chances.weights(*block.T[:4])
        if seen_then:
            own = np.arange(len(block)), block[:, 4]
            then = weights[own]
            weights /= np.where(then > 0, then, 1.0)[:, None]
            weights[own] = then
        for place, day in enumerate(block[:, 4].tolist()):
            weights[place, :day] = 0.0
        total += units[:, start : start + step] @ weights
    return total
