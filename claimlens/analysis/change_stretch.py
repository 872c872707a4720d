"""The build months that may have led to a change, and must not speak for it."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.change_counts import BEFORE_DAYS, GUARD_DAYS, Change, Side
from claimlens.analysis.months import last_month_end, month_no
from claimlens.analysis.production import Production
from claimlens.analysis.rising import Rising, judge_production
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.bad_stretch import bad_stretch
from claimlens.stats.production_counts import counts_by_age
from claimlens.stats.seeds import seed_for

__all__ = ["signalled_months", "stretch_before"]

Bools = NDArray[np.bool_]


def stretch_before(settings: Settings, change: Change, before: Side) -> Bools:
    """Return the build months of the bad stretch that is seen before a change today.

    Parameters
    ----------
    settings : Settings
        For the seed.
    change : Change
        What is judged.
    before : Side
        Its side before.

    Returns
    -------
    ndarray of bool, shape (B,)
        True for months to leave out; see `claimlens.stats.bad_stretch.bad_stretch`.
    """
    if len(before.built) < 2:
        return np.zeros(len(before.built), dtype=bool)
    months, _ = counts_by_age(before.failures, before.unit_months)
    seed = seed_for(settings.life.seed, "change", change.change_no)
    return np.asarray(bad_stretch(months, seed=seed))


def signalled_months(
    session: Session,
    settings: Settings,
    scope: Scope,
    change: Change,
    built: pd.DatetimeIndex,
    *,
    production: Production | None = None,
) -> Bools:
    """Return the build months that a signal spoke of before a change.

    Nobody writes down what a change was made for. What chance made look bad when it
    was decided may look usual by now, so that the stretch seen today leaves months
    in that were chosen for their bad luck.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; events and build dates are made again.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off and filters in force.
    change : Change
        What is judged.
    built : DatetimeIndex
        First days of the build months on the side before, shape (B,).
    production : Production, optional
        Counted by month for the same question, where it is at hand already.

    Returns
    -------
    ndarray of bool, shape (B,)
        True for months of a run of the component that was at watch or alarm at a
        month-end before the change: over all models, or in one that it concerns.
    """
    inside = np.zeros(len(built), dtype=bool)
    if "supplier" in scope.wanted:
        # production is not told apart by supplier
        return inside
    oldest = change.starts_on - timedelta(days=BEFORE_DAYS + GUARD_DAYS)
    last = month_no(last_month_end(change.starts_on - timedelta(days=1)))
    month_ends = range(month_no(oldest), last + 1)
    _, rising = judge_production(
        session, settings, scope, month_ends=month_ends, production=production
    )
    number = np.array([month_no(day.date()) for day in built])
    for kind in rising:
        rows = _rows_of(kind, change)
        for month in kind.months:
            for row in rows[month.level[rows] > 0]:
                inside |= (number >= month.first[row]) & (number <= month.last[row])
    return inside


def _rows_of(kind: Rising, change: Change) -> NDArray[np.intp]:
    """Return the rows of the component, over all models and in those changed."""
    components, models = map(np.array, zip(*kind.names, strict=True))
    concerned = (kind.model_of < 0) | (change.model is None) | (models == change.model)
    return np.flatnonzero((components == change.component) & concerned)
