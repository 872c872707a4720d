"""What the reports before this one showed, counted again as they could count it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace

from claimlens.analysis.late import FIRST_SHOWN, Report
from claimlens.analysis.late_counts import LateCounts, count_late, month_shown
from claimlens.analysis.late_months import (
    EarlierReport,
    earlier_reports,
    months_back,
)
from claimlens.analysis.late_shares import SPAN
from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope, cut_off, open_known
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["Opened", "count_now", "plan_earlier", "read_earlier"]

#: Opens the warehouse for a question and makes its tables ready; one at a time.
Opened = Callable[[Question], AbstractContextManager[tuple[Session, Scope]]]


def count_now(session: Session, scope: Scope, by: Sequence[str] = ()) -> LateCounts:
    """Count the claims by month of failure at the cut-off.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str, optional
        Groups.
    """
    return count_late(session, scope, months_back(scope.as_of, SPAN), by)


def plan_earlier(session: Session, question: Question) -> tuple[EarlierReport, ...]:
    """Return the reports before the one asked for, newest first.

    Parameters
    ----------
    session : Session
        On the warehouse.
    question : Question
        The present one.
    """
    open_known(session, question.as_known)
    as_of, _ = cut_off(session, question)
    return earlier_reports(session, as_of, question.as_known, FIRST_SHOWN - 1)


def read_earlier(
    opened: Opened,
    question: Question,
    planned: Sequence[EarlierReport],
    by: Sequence[str] = (),
    *,
    settings: Settings | None = None,
) -> tuple[Report, ...]:
    """Count the claims by month of failure as the reports before did.

    Each is counted with its cut-off and with the facts that were known when it was
    made. So nothing need be stored, and no file that arrives later changes it.

    Parameters
    ----------
    opened : callable
        Opens a session for an earlier question; the present one is closed.
    question : Question
        The present one.
    planned : sequence of EarlierReport
        From ``plan_earlier``.
    by : sequence of str, optional
        Groups.
    settings : Settings, optional
        Where given, the last report also tells what it showed of its own month.
    """
    return tuple(
        (
            report,
            _counts_of(
                opened,
                question,
                report,
                by,
                settings if report.months_ago == 1 else None,
            ),
        )
        for report in planned
    )


def _counts_of(
    opened: Opened,
    question: Question,
    report: EarlierReport,
    by: Sequence[str],
    settings: Settings | None,
) -> LateCounts | None:
    """Return the counts of an earlier report; None where nothing was known then."""
    asked = replace(question, as_of=report.as_of, as_known=report.as_known)
    try:
        with opened(asked) as (session, scope):
            counts = count_late(session, scope, report.months, by)
            if settings is not None:
                own = month_shown(session, settings, report.months[0])
                counts = replace(counts, shown=own)
    except InputError:
        # no claim was known, or no unit of the filters: no report to compare with
        return None
    return counts if counts.has_units or len(counts.frame) else None
