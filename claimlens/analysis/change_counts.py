"""Failures and unit-months before and after an engineering change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.change_effect import CountsByAge
from claimlens.stats.unit_months import (
    DAYS_PER_MONTH,
    Watched,
    exposed_where_failed,
    unit_months,
)

__all__ = [
    "BEFORE_DAYS",
    "GUARD_DAYS",
    "Change",
    "ChangeCounts",
    "Side",
    "change_counts",
]

Floats = NDArray[np.float64]

#: Days of production before a change that it is held against.
BEFORE_DAYS = 365
#: Days on either side of a change in which nobody knows who has it.
GUARD_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """An engineering change.

    Parameters
    ----------
    change_no, component : str
        Its number, and what it changes.
    description : str or None
        In words.
    model : str or None
        The only model that it concerns; None for all.
    starts_on : date
        First build date that has it.
    """

    change_no: str
    component: str
    description: str | None
    model: str | None
    starts_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of a change, by build month B and month in service A.

    Parameters
    ----------
    built : DatetimeIndex
        Build months B.
    failures, unit_months : ndarray, shape (B, A)
        First failures, and weighted exposure.
    units_built : ndarray, shape (B,)
        Units on this side, in service by now.
    reached : ndarray, shape (A,)
        Units that reached the end of each month in service on this side.
    """

    built: pd.DatetimeIndex
    failures: Floats
    unit_months: Floats
    units_built: Floats
    reached: Floats

    @property
    def units(self) -> float:
        """Return the units on this side."""
        return float(self.units_built.sum())

    def by_age(self, without: NDArray[np.bool_] | None = None) -> CountsByAge:
        """Return the counts by month in service, some build months left out."""
        kept = np.ones(len(self.built), dtype=bool) if without is None else ~without
        return CountsByAge(
            failures=self.failures[kept].sum(axis=0),
            unit_months=self.unit_months[kept].sum(axis=0),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeCounts:
    """Both sides of a change."""

    before: Side
    after: Side


def change_counts(
    session: Session,
    settings: Settings,
    scope: Scope,
    change: Change,
    *,
    other_models: bool = False,
    other_components: bool = False,
) -> ChangeCounts:
    """Count both sides of a change.

    Parameters
    ----------
    session : Session
        With ``int_events``, ``int_built`` and ``reporting_classes``.
    settings : Settings
        Counting rules and covers.
    scope : Scope
        Cut-off in force.
    change : Change
        What is judged.
    other_models : bool, default False
        Count the models that do not have the change instead.
    other_components : bool, default False
        Count the failures of all other components of the same units instead.

    Returns
    -------
    ChangeCounts
        Before: built in the year up to 30 days before the change. After: built from
        30 days after it on, or changed in the field, from that day on.
    """
    guard = timedelta(days=GUARD_DAYS)
    own = change.component in set(settings.coverage.own_cover)
    session.run(
        "intermediate/int_change_units",
        {
            "change_no": change.change_no,
            "model": change.model,
            "other_models": other_models,
            "before_from": change.starts_on - guard - timedelta(days=BEFORE_DAYS),
            "before_to": change.starts_on - guard,
            "after_from": change.starts_on + guard,
            "cover_class": change.component if own else "",
            "as_of": scope.as_of,
        },
    )
    units = session.frame("marts/change_units")
    failures = session.frame(
        "marts/change_failures",
        {
            "component": change.component,
            "others": other_components,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
        },
    )
    longest = int(units["last_day"].max()) + 1 if len(units) else 1
    n_months = int(np.ceil(longest / DAYS_PER_MONTH))
    covered = scope.covered(longest + 1)
    before, after = (
        _side(
            units[units["side"] == side],
            failures[failures["side"] == side],
            reported=scope.reporting.share,
            covered=covered,
            n_months=n_months,
        )
        for side in ("before", "after")
    )
    return ChangeCounts(before=before, after=after)


def _side(
    units: pd.DataFrame,
    failures: pd.DataFrame,
    *,
    reported: Floats,
    covered: Floats,
    n_months: int,
) -> Side:
    built = pd.DatetimeIndex(sorted(set(units["built_on"])))
    row = built.get_indexer(pd.DatetimeIndex(units["built_on"]))
    to_day = units["last_day"].to_numpy(dtype=np.float64) + 1.0
    n = units["n_units"].to_numpy(dtype=np.float64)
    watched = Watched(
        row=row,
        from_day=units["from_day"].to_numpy(dtype=np.float64),
        to_day=to_day,
        reported_to=np.maximum(
            units["reported_to"].to_numpy(dtype=np.float64) + 1.0, to_day
        ),
        reporting=units["reporting"].to_numpy(dtype=np.intp),
        distance=units["distance"].to_numpy(dtype=np.intp),
        n=n,
    )
    exposed = unit_months(
        watched,
        reported=reported,
        covered=covered,
        n_rows=len(built),
        n_months=n_months,
    )
    left = (failures["reported_to"] - failures["age_days"]).to_numpy()
    within = np.clip(left, 0, reported.shape[1] - 1)
    seen = reported[failures["reporting"].to_numpy(), within] > 0
    counted = failures[seen]
    failed = np.zeros((len(built), n_months))
    month = (counted["age_days"] // DAYS_PER_MONTH).astype(int).to_numpy()
    place = built.get_indexer(pd.DatetimeIndex(counted["built_on"]))
    np.add.at(failed, (place, month), counted["n_failures"].to_numpy(dtype=float))
    ends = np.arange(1, n_months + 1) * DAYS_PER_MONTH
    reached = ((to_day[:, None] >= ends) * n[:, None]).sum(axis=0)
    return Side(
        built=built,
        failures=failed,
        unit_months=exposed_where_failed(exposed, failed),
        units_built=np.bincount(row, weights=n, minlength=len(built)).astype(float),
        reached=np.asarray(reached, dtype=np.float64),
    )
