"""How the report of a month is made: in two processes where there are two cores."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import NamedTuple, TypeVar

from claimlens import printing
from claimlens.analysis.late import Report
from claimlens.analysis.monthly_outstanding import MonthAhead, month_ahead
from claimlens.analysis.monthly_to_come import Past, past_forecasts
from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope, cut_off, open_known
from claimlens.analysis.signals import Judged
from claimlens.db import Session, read_warehouse
from claimlens.handover import ReportTables
from claimlens.language import Language, speaking
from claimlens.monthly_inputs import HEAD, MadeBy, made_by
from claimlens.outlook import Outlook
from claimlens.second import (
    ProcessLostError,
    Second,
    second_process,
    usable_cores,
)
from claimlens.settings import Settings
from claimlens.version import __version__

__all__ = ["Months"]

Made = TypeVar("Made")


class _Apart(NamedTuple):
    """What of a month is told by sessions of its own.

    ``earlier`` is what the reports before this one showed, ``ahead`` what is to
    come; both are asked for when they are needed.
    """

    earlier: Callable[[], tuple[Report, ...]]
    ahead: Callable[[Session, Scope], MonthAhead]


class Months(Outlook):
    """The report of a month: counted, drawn, and put together.

    Parameters
    ----------
    folder : Path
        Holds the warehouse.
    settings : Settings
        Rules and limits.
    """

    @property
    def out(self) -> Path:
        """Return the folder that reports are written to."""
        return self.folder / "out"

    def _make_report(
        self,
        question: Question,
        *,
        workbook: bool = True,
        judged: Judged | None = None,
        language: Language | None = None,
        like: MadeBy | None = None,
    ) -> tuple[printing.MonthlyReport, Path]:
        """Make the report, of a production that may be judged already.

        With it comes the page's usual place in the out tray. ``like`` another one it
        compares itself to what that one did, whatever lies in the out tray now.
        """
        chosen = language or self.settings.report.language

        def make(second: Second | None) -> tuple[printing.MonthlyReport, Path]:
            apart = self._apart(question, chosen, second)
            with self._reading(question) as (session, scope), speaking(chosen):
                is_of_then = judged is not None and judged.as_of == scope.as_of
                report = printing.monthly_report(
                    session,
                    self.settings,
                    scope,
                    with_workbook=workbook,
                    second=second,
                    terms=self._terms,
                    version=__version__,
                    earlier=apart.earlier,
                    ahead=apart.ahead,
                    last_made=like.last if like else self._last_made(scope.as_of),
                    judged=judged if is_of_then else None,
                )
            known = f"-known-{scope.as_known}" if scope.as_known else ""
            return report, self.out / f"monthly-{scope.as_of}{known}.html"

        return self._in_two(make)

    def _month_tables(self, question: Question) -> ReportTables:
        """Count what the report tells, and draw nothing."""
        chosen = self.settings.report.language

        def make(second: Second | None) -> ReportTables:
            apart = self._apart(question, chosen, second)
            with self._reading(question) as (session, scope), speaking(chosen):
                return printing.monthly_tables(
                    session,
                    self.settings,
                    scope,
                    terms=self._terms,
                    version=__version__,
                    earlier=apart.earlier,
                    ahead=apart.ahead,
                )

        return self._in_two(make)

    def _in_two(self, make: Callable[[Second | None], Made]) -> Made:
        """Make something with a second process where one is of use, else alone."""
        cores = self.settings.engine.threads or usable_cores()
        if min(cores, usable_cores()) > 1:
            try:
                with second_process() as second:
                    return make(second)
            except ProcessLostError:
                pass  # all of it again, alone
        return make(None)

    def _apart(
        self, question: Question, chosen: Language, second: Second | None
    ) -> _Apart:
        """Have what needs sessions of its own told, in the other process if any."""
        if second is None:
            earlier = self._earlier(question, own_month=True)
            past = self._past(question)
            return _Apart(
                lambda: earlier,
                lambda session, scope: month_ahead(session, self.settings, scope, past),
            )
        asked = (self.folder, self.settings, question)
        shown = second.submit(_earlier_shown, *asked)
        ahead = second.submit(_ahead, *asked, chosen)
        return _Apart(shown.result, lambda session, scope: ahead.result())

    def _last_made(self, as_of: date) -> MadeBy | None:
        """Read what made the newest report before that cut-off, if one is there."""
        found = []
        for path in self.out.glob("monthly-????-??-??.html"):
            with path.open(encoding="utf-8", errors="replace") as page:
                made = made_by(page.read(HEAD))
            if made is not None and made.as_of < as_of:
                found.append(made)
        return max(found, key=lambda made: made.as_of, default=None)

    def _past(self, question: Question) -> Past:
        """Make the forecasts of months ago."""
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            open_known(session, question.as_known)
            as_of, _ = cut_off(session, question)
        return past_forecasts(self._reading, self.settings, question, as_of)


def _earlier_shown(
    folder: Path, settings: Settings, question: Question
) -> tuple[Report, ...]:
    """Return what the reports before showed; a job of the second process."""
    return _months(folder, settings)._earlier(question, own_month=True)


def _ahead(
    folder: Path, settings: Settings, question: Question, chosen: Language
) -> MonthAhead:
    """Return what is to come; a job of the second process."""
    months = _months(folder, settings)
    past = months._past(question)
    with months._reading(question) as (session, scope), speaking(chosen):
        return month_ahead(session, settings, scope, past)


# what a process has opened stays open: its terms are compiled once
_OPENED: dict[Path, Months] = {}


def _months(folder: Path, settings: Settings) -> Months:
    known = _OPENED.get(folder)
    if known is None or known.settings != settings:
        known = _OPENED[folder] = Months(folder, settings)
    return known
