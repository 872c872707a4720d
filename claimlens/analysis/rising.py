"""Recent production judged at every month-end up to the cut-off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.months import last_month_end, month_no
from claimlens.analysis.production import Production, count_production
from claimlens.analysis.rising_tables import views_of
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.rising import Month, false_signals, rising_faults

__all__ = ["LEVELS", "Rising", "expected_by_chance", "judge_production"]

Indices = NDArray[np.int64]

LEVELS = ("", "watch", "alarm")
"""Words of the levels 0, 1 and 2."""

# month-ends that are looked at: a signal can stand for a year and a half, and what
# came in the first year of them may look newer than it is
_MONTH_ENDS = 36


@dataclass(frozen=True, kw_only=True)
class Rising:
    """Rows of one kind of cover: components over all models, then by model.

    Parameters
    ----------
    production : Production
        Failures and units.
    places : ndarray of int
        Places of the components.
    months : tuple of Month
        One for each month-end, the newest last.
    """

    production: Production
    places: Indices
    months: tuple[Month, ...]

    @property
    def _models_apart(self) -> int:
        """Return how many models have rows of their own."""
        n_rows = self.months[-1].level.size
        return (n_rows - self.places.size) // max(self.places.size, 1)

    @property
    def component_of(self) -> Indices:
        """Return the place of each row's component."""
        alone = np.repeat(self.places, self._models_apart)
        return np.concatenate([self.places, alone])

    @property
    def model_of(self) -> Indices:
        """Return the place of each row's model; -1 for all models."""
        alone = np.tile(np.arange(self._models_apart), self.places.size)
        return np.concatenate([np.full(self.places.size, -1), alone])

    @property
    def names(self) -> list[tuple[str, str]]:
        """Return component and model of each row; "" for all models."""
        components, models = self.production.components, self.production.models
        return [
            (components[int(c)], "" if m < 0 else models[int(m)])
            for c, m in zip(self.component_of, self.model_of, strict=True)
        ]

    @property
    def row_of(self) -> dict[tuple[str, str], int]:
        """Return the row of each component, and of each component and model."""
        return {name: row for row, name in enumerate(self.names)}


def judge_production(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    month_ends: Sequence[int] | None = None,
    production: Production | None = None,
) -> tuple[Production, list[Rising]]:
    """Judge every component at month-ends, each from what was known at it.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off and filters in force.
    month_ends : sequence of int, optional
        Numbers of calendar months, rising; by default the last 36 up to the cut-off.
        Those before all production or after the cut-off are left out.
    production : Production, optional
        Counted by month for the same question, where it is at hand already.

    Returns
    -------
    production : Production
        By month of build.
    rising : list of Rising
        One for each kind of cover.
    """
    if production is None:
        production = count_production(session, settings, scope)
    if not len(production.built) or not production.components:
        return production, []
    last = month_no(last_month_end(scope.as_of))
    first = month_no(production.built[0].date())
    newest = range(last - _MONTH_ENDS + 1, last + 1)
    asked = newest if month_ends is None else month_ends
    cutoffs = [month for month in asked if first <= month <= last]
    found = []
    for cover in sorted(set(production.cover_of.tolist())):
        places = np.flatnonzero(production.cover_of == cover)
        months = rising_faults(views_of(production, places), cutoffs) if cutoffs else ()
        if months:
            found.append(Rising(production=production, places=places, months=months))
    return production, found


def expected_by_chance(rising: Sequence[Rising]) -> tuple[float, float]:
    """Return new watches and alarms a month that chance alone brings this fleet."""
    totals = [
        false_signals(kind.months[-1].recent, one_model=kind.model_of >= 0)
        for kind in rising
    ]
    return sum(watch for watch, _ in totals), sum(alarm for _, alarm in totals)
