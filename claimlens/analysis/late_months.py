"""Months counted back from a cut-off, and the reports made at their ends."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import pandas as pd

from claimlens.analysis.late_shares import WINDOW
from claimlens.db import Session

__all__ = ["EarlierReport", "Month", "earlier_reports", "months_back"]

# files of one delivery are dated within a week of each other; a rule of ours
_DELIVERY = timedelta(days=7)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Month:
    """A month of whole days, first and last included.

    It is a calendar month where the cut-off is a month-end, and else ends on the
    cut-off's day of the month.
    """

    first: date
    last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierReport:
    """A report of an earlier month-end.

    Parameters
    ----------
    months_ago : int
        How many months before the present cut-off it was made, at least 1.
    as_of : date
        Its cut-off.
    as_known : date or None
        What it could know of; None for all that is known now.
    months : tuple of Month
        Its months, the one that ends with its cut-off first.
    """

    months_ago: int
    as_of: date
    as_known: date | None
    months: tuple[Month, ...]


def months_back(as_of: date, count: int) -> tuple[Month, ...]:
    """Return so many months, the one that ends with the cut-off first."""
    is_end = (as_of + _DAY).day == 1
    ends = []
    for ago in range(count + 1):
        year, month = divmod(as_of.year * 12 + as_of.month - 1 - ago, 12)
        if year < 1:
            break
        longest = monthrange(year, month + 1)[1]
        ends.append(
            date(year, month + 1, longest if is_end else min(as_of.day, longest))
        )
    return tuple(Month(before + _DAY, end) for end, before in pairwise(ends))


def earlier_reports(
    session: Session, as_of: date, as_known: date | None, count: int
) -> tuple[EarlierReport, ...]:
    """Return the reports of the month-ends before this one.

    A report is taken to be made once the first claims dated at or after its cut-off
    are in, a week allowed for the other files of that delivery; it knows nothing
    that came later, so its figures never change again.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables.
    as_of, as_known : date, or None for as_known
        The present cut-off, and what is known.
    count : int
        How many, at most.

    Returns
    -------
    tuple of EarlierReport
        Newest first; none that lies before the first claim.
    """
    seen = session.frame("marts/newest_report").iloc[0]
    if pd.isna(seen["oldest_on"]):
        return ()
    oldest = seen["oldest_on"].date()
    batches = session.frame("marts/lag_batches", {"as_known": as_known or date.max})
    dated = [pd.Timestamp(day).date() for day in batches["known_on"]]
    months = months_back(as_of, count + WINDOW + 1)
    return tuple(
        EarlierReport(
            months_ago=ago,
            as_of=months[ago].last,
            as_known=_known_by(dated, months[ago].last, months[ago - 1].last, as_known),
            months=months[ago:],
        )
        for ago in range(1, min(count + 1, len(months)))
        if months[ago].last >= oldest
    )


def _known_by(
    dated: list[date], end: date, next_end: date, as_known: date | None
) -> date | None:
    """Return the last known-on date that the report of a month-end could see."""
    first = min((day for day in dated if day >= end), default=None)
    if first is None:
        return as_known
    stop = first + _DELIVERY
    if first < next_end:
        stop = min(stop, next_end)
    last = max(day for day in dated if first <= day < stop or day == first)
    # nothing came since: what it knew is what is known now, other files included
    return as_known if last == max(dated) else last
