"""Every engineering change of the list, judged for the monthly report."""

from __future__ import annotations

from typing import cast

import numpy as np
import pandas as pd

from claimlens.analysis.change import CHANGE_COLUMNS, judge_change
from claimlens.analysis.change_counts import ChangeCounts, Side
from claimlens.analysis.production import Production
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["CURVE_COLUMNS", "RECENT_YEARS", "changes_judged"]

CURVE_COLUMNS = ("change_no", "side", "months", "share")

#: Older changes are listed, but no longer judged each month.
RECENT_YEARS = 5


def changes_judged(
    session: Session,
    settings: Settings,
    scope: Scope,
    production: Production,
    *,
    component: str | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Judge the engineering changes of the last years, and list the others.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``, and units.
    settings : Settings
        Counting rules, covers, seed.
    scope : Scope
        Cut-off in force.
    production : Production
        Counted by month at that cut-off.
    component : str, optional
        Only its changes, and those however old they are.

    Returns
    -------
    changes : DataFrame
        ``CHANGE_COLUMNS`` and ``description``, the newest first. A change that
        cannot be judged has no verdict, and its ``reason`` says why not.
    curves : DataFrame
        ``CURVE_COLUMNS``: cumulative share failed before and after each judged
        change, from age 0 to the age that both sides have reached.
    """
    listed = session.frame("marts/changes_listed")
    listed = listed.sort_values(
        ["starts_on", "change_no"], ascending=[False, True], na_position="last"
    )
    oldest = pd.Timestamp(scope.as_of) - pd.DateOffset(years=RECENT_YEARS)
    if component is not None:
        listed, oldest = listed[listed["component"] == component], pd.Timestamp.min
    rows, curves = [], []
    for listed_row in listed.to_dict("records"):
        starts = listed_row["starts_on"]
        is_old = bool(pd.notna(starts) and pd.Timestamp(starts) < oldest)
        row, curve = _judged(
            session, settings, scope, dict(listed_row), production, is_old=is_old
        )
        rows.append(row | {"description": listed_row["description"]})
        curves += curve
    return (
        pd.DataFrame(rows, columns=[*CHANGE_COLUMNS, "description"]),
        pd.DataFrame(curves, columns=list(CURVE_COLUMNS)),
    )


def _judged(
    session: Session,
    settings: Settings,
    scope: Scope,
    listed: dict[object, object],
    production: Production,
    *,
    is_old: bool,
) -> tuple[dict[str, object], list[tuple[object, ...]]]:
    number = str(listed["change_no"])
    starts = pd.Timestamp(str(listed["starts_on"])) if listed["starts_on"] else pd.NaT
    silent: dict[str, object] = {
        "change_no": number,
        "component": listed["component"],
        "model": listed["model"],
        "starts_on": starts,
    }
    cut_off = pd.Timestamp(scope.as_of)
    if pd.notna(starts) and starts > cut_off:
        return silent | {"reason": "begins after the cut-off"}, []
    if is_old:
        return silent | {
            "reason": f"older than {RECENT_YEARS} years; claimlens change {number} "
            "judges it"
        }, []
    try:
        row, counts = judge_change(
            session, settings, scope, number, production=production
        )
    except InputError as error:
        return silent | {"reason": error.problem.rstrip(".")}, []
    ages = cast("int", row["at_months"])
    return row, _curves(counts, number, ages) if ages else []


def _curves(counts: ChangeCounts, number: str, ages: int) -> list[tuple[object, ...]]:
    return [
        (number, name, float(age), float(share))
        for name, side in (("before", counts.before), ("after", counts.after))
        for age, share in enumerate(_share_failed(side, ages))
    ]


def _share_failed(
    side: Side, ages: int
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the share failed by the end of each month in service, from age 0."""
    by_age = side.by_age()
    failed = np.asarray(by_age.failures, dtype=np.float64)[:ages]
    exposed = np.asarray(by_age.unit_months, dtype=np.float64)[:ages]
    # an age that next to no unit has passed tells nothing
    hazard = np.divide(
        failed, exposed, out=np.zeros(failed.shape), where=exposed > 0.01
    )
    return np.append(0.0, 1.0 - np.exp(-np.cumsum(hazard)))
