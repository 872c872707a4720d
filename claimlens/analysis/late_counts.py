"""Claims inside the cover by month of failure and months until their report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from claimlens.analysis.events import put_events
from claimlens.analysis.late_months import Month
from claimlens.analysis.late_shares import WINDOW
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.monthly_inputs import Backlog, ShownCounts
from claimlens.settings import Settings

__all__ = [
    "GROUPS",
    "Backlog",
    "LateCounts",
    "backlogs",
    "checked_groups",
    "count_late",
    "month_shown",
]

GROUPS = (
    "model",
    "model_year",
    "component",
    "failure_mode",
    "region",
    "generation",
    "build_month",
)

# one day with more than this share of a month's reports is a backlog; below so many
# claims that is chance
_BACKLOG_SHARE = 0.3
_BACKLOG_CLAIMS = 10


@dataclass(frozen=True, slots=True)
class LateCounts:
    """Claims inside the cover by month of failure and of report.

    Parameters
    ----------
    frame : DataFrame
        Groups asked for, ``failed_no`` (months before the cut-off's own), ``lag``
        (months), ``is_failure_date_assumed``, ``is_wanted``, ``n_claims``.
    by : tuple of str
        The groups.
    has_units : bool
        Whether any unit was known; without one no claim counts.
    shown : ShownCounts or None
        What the report of that cut-off said of its own month; None where it was
        not asked for.
    """

    frame: pd.DataFrame
    by: tuple[str, ...]
    has_units: bool
    shown: ShownCounts | None = None

    def groups(self) -> list[tuple[dict[str, object], pd.DataFrame]]:
        """Return each group that is wanted, with its claims; one where none is asked.

        A group is a dict of its keys; an unknown key is None.
        """
        wanted = self.frame[self.frame["is_wanted"].astype(bool)]
        if not self.by:
            return [({}, wanted)]
        return [
            (
                {
                    name: None if pd.isna(key) else key
                    for name, key in zip(self.by, keys, strict=True)
                },
                rows,
            )
            for keys, rows in wanted.groupby(list(self.by), dropna=False, sort=True)
        ]


def checked_groups(by: Sequence[str]) -> tuple[str, ...]:
    """Return the groups asked for.

    Parameters
    ----------
    by : sequence of str
        Names of ``GROUPS``.

    Raises
    ------
    InputError
        If one is not known or named twice.
    """
    unknown = [name for name in by if name not in GROUPS]
    if unknown:
        raise InputError(
            f"Late reports cannot be grouped by {unknown[0]!r}.",
            remedy=f"group by one or more of {', '.join(GROUPS)}",
        )
    if len(set(by)) < len(by):
        raise InputError(f"A group is named twice in {', '.join(by)}.")
    return tuple(by)


def count_late(
    session: Session, scope: Scope, months: tuple[Month, ...], by: Sequence[str] = ()
) -> LateCounts:
    """Count claims by month of failure and lag.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Filters in force.
    months : tuple of Month
        The one that ends with the cut-off first.
    by : sequence of str
        Names of ``GROUPS``.

    Returns
    -------
    LateCounts
        Claims inside the cover, neither denied nor goodwill. What an inspection
        found plays no part: it is known of the older months only, and leaving
        claims out for it would make the last months look worse.

    Raises
    ------
    InputError
        If a group is not known, or the question is for one supplier.
    """
    groups = checked_groups(by)
    if "supplier" in scope.wanted:
        raise InputError(
            "Late reports are not told apart by supplier.",
            remedy="leave --supplier out; --model, --model-year, --component and "
            "--region work",
        )
    _put_months(session, months)
    frame = session.frame(
        "marts/lag_counts", {f"by_{name}": name in groups for name in GROUPS}
    )
    kept = ["failed_no", "lag", "is_failure_date_assumed", "is_wanted", "n_claims"]
    return LateCounts(
        frame=frame[[*groups, *kept]],
        by=groups,
        has_units=session.count("int_units") > 0,
    )


def backlogs(session: Session, months: tuple[Month, ...]) -> tuple[Backlog, ...]:
    """Return the days of the last two years that brought a backlog, oldest first.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    months : tuple of Month
        The one that ends with the cut-off first.
    """
    _put_months(session, months[:WINDOW])
    days = session.frame("marts/lag_report_dates", {"fewest": _BACKLOG_CLAIMS})
    return tuple(
        Backlog(
            pd.Timestamp(row["reported_on"]).date(),
            int(row["n_day"]),
            int(row["n_month"]),
        )
        for row in days.to_dict("records")
        if row["n_day"] > _BACKLOG_SHARE * row["n_month"]
    )


def month_shown(session: Session, settings: Settings, month: Month) -> ShownCounts:
    """Return what the report of a month says of the month itself.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare`` at the end of that month.
    settings : Settings
        Counting rules.
    month : Month
        The one that ends with the cut-off.
    """
    put_events(session, settings)
    row = session.frame(
        "marts/month_state",
        {
            "month_start": month.first,
            "month_end": month.last,
            "open_since": month.first,
        },
    ).iloc[0]
    return ShownCounts(
        claims_reported=int(row["n_reported"]),
        first_failures=int(row["n_first_failures"]),
        open_claims=int(row["n_open"]),
        units_in_service=round(float(row["n_units"])),
    )


def _put_months(session: Session, months: tuple[Month, ...]) -> None:
    session.put(
        "lag_months",
        pd.DataFrame(
            {
                "month_no": range(len(months)),
                "from_date": pd.to_datetime([month.first for month in months]),
                "to_date": pd.to_datetime([month.last for month in months]),
            }
        ),
    )
