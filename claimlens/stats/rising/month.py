"""What is said of every component at one month-end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.intervals import poisson_exact
from claimlens.stats.rising.counts import View
from claimlens.stats.rising.levels import alarm_bar, watch_bar
from claimlens.stats.shrinkage import ALPHA_OF_FEW

__all__ = ["Month", "silent_month"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """All R rows at one month-end; arrays of shape (R,).

    Rows 0 to C - 1 are the components over all models; row C + c M + m is component
    c of model m.

    Parameters
    ----------
    cutoff : int
        Calendar month.
    level : ndarray of int
        0 nothing, 1 watch, 2 alarm.
    evidence, watch, alarm : ndarray
        What the counts say, and the bars of both levels.
    at_once : ndarray
        Evidence if every failure had been reported at once; 0 below the bar.
    first, last : ndarray of int
        Calendar months of build of the run that the counts speak for; -1 where
        nothing is above expectation.
    observed, expected : ndarray
        Failures of the run.
    units : ndarray
        Units of the run in service.
    uncertainty : ndarray
        Relative variance of ``expected``, of months about the level included.
    recent : ndarray
        Failures expected of all recent production.
    noisy : ndarray of bool
        The part varies from month to month by more than chance: variance of a run
        more than 1.2 times that of chance for it.
    borrowed : ndarray of bool
        Few months or failures of older production: the level leans on other
        components.
    fleet_ratio : ndarray, shape (B,)
        Observed over expected of all components together by build month.
    oldest : int
        First build month looked at.
    note : str
        Why nothing could be said; else empty.
    """

    cutoff: int
    level: Indices
    evidence: Floats
    watch: Floats
    alarm: Floats
    at_once: Floats
    first: Indices
    last: Indices
    observed: Floats
    expected: Floats
    units: Floats
    uncertainty: Floats
    recent: Floats
    noisy: Bools
    borrowed: Bools
    fleet_ratio: Floats
    oldest: int
    note: str

    def rate_ratio(self, confidence: float = 0.95) -> tuple[Floats, Floats, Floats]:
        """Return observed over expected of each run, with its limits.

        Parameters
        ----------
        confidence : float, default 0.95
            Two-sided level, strictly between 0 and 1.

        Returns
        -------
        ratio, lower, upper : ndarray, shape (R,)
            Garwood limits of the observed count; NaN where there is no run. The run
            was searched for, so the ratio is too high: see `shrunk_ratio`.
        """
        found = self.expected > 0
        e = np.where(found, self.expected, 1.0)
        lower, upper = poisson_exact(self.observed, e, confidence)
        values = self.observed / e, lower, upper
        return tuple(np.where(found, one, np.nan) for one in values)  # type: ignore[return-value]

    def shrunk_ratio(self) -> Floats:
        """Return observed over expected, drawn towards 1 by four claims.

        Returns
        -------
        ndarray, shape (R,)
            What to rank and speak by; NaN where there is no run.
        """
        ratio = (ALPHA_OF_FEW + self.observed) / (ALPHA_OF_FEW + self.expected)
        return np.where(self.expected > 0, ratio, np.nan)


def silent_month(view: View, oldest: int, note: str) -> Month:
    """Return a month-end at which nothing can be said.

    Parameters
    ----------
    view : View
        What is known at it.
    oldest : int
        First build month that would have been looked at.
    note : str
        Why.

    Returns
    -------
    Month
    """
    n_components, n_models = view.failed.shape[:2]
    cells = n_models if n_models > 1 else 0
    size = n_components * (1 + cells)
    zero, none = np.zeros(size), np.full(size, -1, dtype=np.int64)
    single = np.arange(size) >= n_components
    return Month(
        cutoff=view.cutoff,
        level=np.zeros(size, dtype=np.int64),
        evidence=zero,
        watch=watch_bar(zero, one_model=single),
        alarm=alarm_bar(single),
        at_once=zero,
        first=none,
        last=none,
        observed=zero,
        expected=zero,
        units=zero,
        uncertainty=zero,
        recent=zero,
        noisy=np.zeros(size, dtype=bool),
        borrowed=np.ones(size, dtype=bool),
        fleet_ratio=np.ones(view.units.shape[1]),
        oldest=oldest,
        note=note,
    )
