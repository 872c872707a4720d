"""From a prepared warehouse to the monthly report: counted, drawn, and rendered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Required, TypedDict, Unpack

from claimlens.analysis.late import Report
from claimlens.analysis.monthly_outstanding import MonthAhead
from claimlens.analysis.scope import Scope
from claimlens.analysis.signals import Judged
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.handover import (
    ReportTables,
    figures_digest,
    workbook_bytes,
)
from claimlens.language import Language, language, speaking
from claimlens.monthly_inputs import Arrivals, MadeBy, MonthlyInputs
from claimlens.results import ChartHtml
from claimlens.second import Job, Second, done_alone
from claimlens.settings import Settings

__all__ = [
    "MonthNews",
    "MonthTold",
    "MonthlyReport",
    "decided",
    "monthly_report",
    "monthly_tables",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthNews:
    """What of a month goes into a summary.

    Parameters
    ----------
    title : str
        What it is of: month and workspace.
    as_of : date
        Cut-off.
    decisions : tuple of str
        What needs a decision, as the page says it.
    arrivals : Arrivals
        What arrived.
    """

    title: str
    as_of: date
    decisions: tuple[str, ...]
    arrivals: Arrivals


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthlyReport:
    """The monthly report as it leaves.

    Parameters
    ----------
    page : str
        One self-contained HTML page.
    workbook : bytes or None
        Its tables; None where they are not wanted.
    news : MonthNews
        What a summary tells of it.
    """

    page: str
    workbook: bytes | None
    news: MonthNews


class MonthTold(TypedDict, total=False):
    """What the month is counted with, beside session, settings and scope.

    ``terms`` hold the taxonomy, ``version`` is that of claimlens, ``ahead`` tells
    what is to come, ``earlier`` what the reports before this one showed,
    ``judged`` is the production at the cut-off where it was judged already,
    ``last_made`` what the newest report before this one was made with.
    """

    terms: Required[Terms]
    version: Required[str]
    ahead: Required[Callable[[Session, Scope], MonthAhead]]
    earlier: Callable[[], Sequence[Report]]
    judged: Judged | None
    last_made: MadeBy | None


def monthly_report(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    with_workbook: bool = True,
    second: Second | None = None,
    **told: Unpack[MonthTold],
) -> MonthlyReport:
    """Count, estimate, draw and render the monthly report.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    with_workbook : bool, default True
        Whether its tables are wanted as a workbook.
    second : Second, optional
        Does half of the drawing.
    **told
        See `MonthTold`.

    Returns
    -------
    MonthlyReport
        The page, and the workbook that goes beside it.
    """
    inputs = _count_month(session, settings, scope, **told)
    tables = _tables_of(inputs)
    figures = figures_digest(tables)
    inputs = replace(inputs, meta=replace(inputs.meta, figures=figures))
    page, workbook = _draw_month(inputs, tables if with_workbook else None, second)
    return MonthlyReport(
        page=page,
        workbook=workbook,
        news=MonthNews(
            title=tables.title,
            as_of=inputs.meta.as_of,
            decisions=decided(tables),
            arrivals=inputs.arrivals,
        ),
    )


def monthly_tables(
    session: Session, settings: Settings, scope: Scope, **told: Unpack[MonthTold]
) -> ReportTables:
    """Count and estimate what the monthly report tells, and draw nothing.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    **told
        See `MonthTold`.

    Returns
    -------
    ReportTables
        One sheet a table of the page.
    """
    return _tables_of(_count_month(session, settings, scope, **told))


def _count_month(
    session: Session, settings: Settings, scope: Scope, **told: Unpack[MonthTold]
) -> MonthlyInputs:
    # what only this report needs takes long to load
    from claimlens.analysis.monthly import monthly_inputs

    return monthly_inputs(session, settings, scope, **told)


def _draw_month(
    inputs: MonthlyInputs, tables: ReportTables | None, second: Second | None
) -> tuple[str, bytes | None]:
    """Return the page, and the workbook where its tables are given."""
    # drawing takes long to load, and nothing but a page draws
    from claimlens.charts.embed import library_bundle
    from claimlens.charts.monthly import CHARTS, draw
    from claimlens.report.monthly import render_monthly

    calls: list[tuple[object, ...]] = [(library_bundle,)]
    calls += [(draw, inputs, name) for name in CHARTS]
    if tables is not None:
        calls.append((workbook_bytes, tables))
    jobs = [Job(_spoken, (language(), *call)) for call in calls]
    made = second.share(jobs) if second else done_alone(jobs)
    library, drawn = str(made[0]), made[1 : len(CHARTS) + 1]
    workbook = made[-1] if isinstance(made[-1], bytes) else None
    charts = {
        name: one
        for name, one in zip(CHARTS, drawn, strict=True)
        if isinstance(one, ChartHtml)
    }
    return render_monthly(inputs, charts, library=library), workbook


def _spoken(
    chosen: Language, function: Callable[..., object], *arguments: object
) -> object:
    """Call a function in the language of the reader."""
    with speaking(chosen):
        return function(*arguments)


def _tables_of(inputs: MonthlyInputs) -> ReportTables:
    # the words of the page come with what renders it
    from claimlens.report.monthly_data import monthly_tables as tables_of

    return tables_of(inputs)


def decided(tables: ReportTables) -> tuple[str, ...]:
    """Return what needs a decision, in the words of the page.

    Parameters
    ----------
    tables : ReportTables
        Of the month.

    Returns
    -------
    tuple of str
        Gravest first.
    """
    [sheet] = [sheet for sheet in tables.sheets if sheet.id == "decisions"]
    told = sheet.frame
    rows = zip(told["part"], told["what"], told["who_acts"], strict=True)
    return tuple(
        f"{what} {who}".strip()
        for part, what, who in rows
        if part in ("danger", "needs a decision")
    )
