"""Repair events of a question: read one by one and placed on segments."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.grouping import UNIT_GROUPS, Grouping
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.follow_up import Repairs
from claimlens.stats.watches import Occurrences, Watches

__all__ = [
    "mark_repairs",
    "occurrences_of",
    "place",
    "read_events",
    "repairs_of",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


def mark_repairs(session: Session, settings: Settings, *, by_mode: bool) -> None:
    """Make ``int_repeat_events``: events of each unit and component, and the next one.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        How close claims are one event.
    by_mode : bool
        Tell failure modes of a component apart.
    """
    session.run(
        "intermediate/int_repeat_claims",
        {
            "by_failure_mode": by_mode,
            "same_event_days": settings.counting.same_event_days,
        },
    )
    session.run("intermediate/int_repeat_events")


def read_events(
    session: Session,
    settings: Settings,
    scope: Scope,
    grouping: Grouping,
    *,
    on_own_cover: bool,
) -> pd.DataFrame:
    """Read the events, one row for each and each date its unit may have started.

    Parameters
    ----------
    session : Session
        After ``mark_repairs`` and ``count_failures`` for the same grouping.
    settings : Settings
        Counting rules.
    scope : Scope
        Filters in force.
    grouping : Grouping
        What the rows of the answer are.
    on_own_cover : bool
        Watch each event's unit on the cover of the component, else on the unit's.

    Returns
    -------
    pandas.DataFrame
        Columns as in ``queries/marts/repeat_events.sql``.
    """
    suppliers = scope.wanted.get("supplier")
    inner = (*grouping.inner, "supplier") if suppliers else grouping.inner
    flags: dict[str, object] = {f"by_{name}": name in inner for name in UNIT_GROUPS}
    events = session.frame(
        "marts/repeat_events",
        {
            **flags,
            "by_component": "component" in inner,
            "on_own_cover": on_own_cover,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
            "longest_lag": scope.reporting.longest,
        },
    )
    if suppliers:
        events = events[events["supplier"].isin(suppliers)].reset_index(drop=True)
    return events


def place(
    rows: pd.DataFrame,
    segments: pd.DataFrame,
    keys: Sequence[str],
    names: Sequence[str],
) -> pd.DataFrame:
    """Return the rows of known segments with ``segment``, their number.

    Parameters
    ----------
    rows : pandas.DataFrame
        With the columns ``keys``.
    segments : pandas.DataFrame
        One row a segment, with the columns ``names``.
    keys, names : sequence of str
        The same things under their names in the queries and in the answer.

    Returns
    -------
    pandas.DataFrame
        In the order of ``rows``.
    """
    if not keys:
        return rows.assign(segment=0) if len(segments) else rows.head(0)
    numbered = segments[list(names)].rename(columns=dict(zip(names, keys, strict=True)))
    numbered = numbered.assign(segment=np.arange(len(segments)))
    return rows.merge(numbered, on=list(keys), how="inner")


def occurrences_of(events: pd.DataFrame, amount: Floats) -> Occurrences:
    """Return placed events as arrays.

    Parameters
    ----------
    events : pandas.DataFrame
        With ``segment``.
    amount : ndarray, shape (n,)
        What each event counts.

    Returns
    -------
    Occurrences
        One entry a row.
    """
    segment = _whole(events, "segment")
    return Occurrences(
        segment=segment,
        unit=_whole(events, "unit_no"),
        day=_whole(events, "age_days"),
        watch=Watches(
            row=segment,
            entry_day=_whole(events, "entry_days"),
            last_day=_whole(events, "last_day"),
            seen_after=_whole(events, "days_after"),
            reporting=_whole(events, "reporting"),
            distance=_whole(events, "distance"),
            n=events["weight"].to_numpy(dtype=np.float64),
        ),
        amount=amount,
    )


def repairs_of(events: pd.DataFrame, segment: Indices) -> Repairs:
    """Return events as repairs that are followed.

    Parameters
    ----------
    events : pandas.DataFrame
        On the cover of their component.
    segment : ndarray of int, shape (n,)
        The segment of each row.

    Returns
    -------
    Repairs
        A next event after the end of the watch is none.
    """
    day, last_day = _whole(events, "age_days"), _whole(events, "last_day")
    gap = _whole(events, "gap_days")
    return Repairs(
        segment=segment,
        day=day,
        last_day=last_day,
        seen_after=_whole(events, "days_after"),
        reporting=_whole(events, "reporting"),
        distance=_whole(events, "distance"),
        gap=np.where(day + gap <= last_day, gap, 0),
        n=events["weight"].to_numpy(dtype=np.float64),
    )


def _whole(events: pd.DataFrame, name: str) -> Indices:
    return np.asarray(events[name], dtype=np.intp)
