"""From a prepared warehouse to a report: counted, drawn, and written out."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal, Required, TypedDict, Unpack

from claimlens.analysis.late import Report
from claimlens.analysis.monthly_to_come import Past
from claimlens.analysis.scope import Scope
from claimlens.analysis.signals import Judged
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.db.parquet import write_parquet
from claimlens.errors import InputError
from claimlens.handover import (
    Kind,
    ReportTables,
    Sheet,
    check_target,
    columns_sheet,
    contents_sheet,
    definitions_sheet,
    placing_all,
    records,
    to_csv,
    to_json,
    typed,
    workbook_bytes,
)
from claimlens.monthly_inputs import Arrivals, MadeBy, MonthlyInputs
from claimlens.settings import Settings

__all__ = [
    "MonthNews",
    "MonthTold",
    "MonthlyReport",
    "TableForm",
    "check_report",
    "check_tables",
    "decided",
    "monthly_report",
    "monthly_tables",
    "place_report",
    "write_tables",
]

#: How the tables of a report are written one by one.
TableForm = Literal["csv", "json", "parquet"]

_SQL_TYPES: Mapping[Kind, str] = {
    **dict.fromkeys(("text", "key", "note"), "varchar"),
    **dict.fromkeys(("number", "ratio", "share", "chance", "money"), "double"),
    **{"months": "double", "flag": "boolean", "year": "integer"},
    **dict.fromkeys(("month", "date"), "date"),
}


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

    ``terms`` hold the taxonomy, ``version`` is that of claimlens, ``past`` are
    forecasts of months ago, ``earlier`` what the reports before this one showed,
    ``judged`` the production at the cut-off where it was judged already,
    ``last_made`` what the newest report before this one was made with.
    """

    terms: Required[Terms]
    version: Required[str]
    past: Required[Past]
    earlier: Sequence[Report]
    judged: Judged | None
    last_made: MadeBy | None


def monthly_report(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    with_workbook: bool = True,
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
    **told
        See `MonthTold`.

    Returns
    -------
    MonthlyReport
        The page, and the workbook that goes beside it.
    """
    inputs = _count_month(session, settings, scope, **told)
    tables = _tables_of(inputs)
    return MonthlyReport(
        page=_draw_month(inputs),
        workbook=workbook_bytes(tables) if with_workbook else None,
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


def _draw_month(inputs: MonthlyInputs) -> str:
    # drawing takes long to load, and nothing but a page draws
    from claimlens.charts import monthly as monthly_charts
    from claimlens.charts.embed import library_bundle
    from claimlens.report.monthly import render_monthly

    charts = monthly_charts.build(inputs)
    return render_monthly(inputs, charts, library=library_bundle())


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


def check_report(page: Path, *, with_workbook: bool, overwrite: bool) -> None:
    """Raise before any counting if a report could not be put in its place.

    Parameters
    ----------
    page : Path
        Target of the page.
    with_workbook : bool
        Whether a workbook goes beside it.
    overwrite : bool
        Whether what is there may be replaced.

    Raises
    ------
    InputError
        If a file is there and may not be replaced, the folder is not there, or the
        page itself is to end in ``.xlsx``.
    """
    beside = page.with_suffix(".xlsx")
    if with_workbook and beside == page:
        raise InputError(
            "The page cannot have the name of its workbook.",
            source=str(page),
            remedy="name the page, such as report.html; the workbook goes beside",
        )
    _check_folder(page.parent)
    for path in (beside, page) if with_workbook else (page,):
        check_target(path, overwrite=overwrite)


def check_tables(folder: Path, form: TableForm, *, overwrite: bool) -> None:
    """Raise before any counting if tables could not be written to a folder.

    Parameters
    ----------
    folder : Path
        Need not be there; the folder around it must be.
    form : {"csv", "json", "parquet"}
        How they are to be written.
    overwrite : bool
        Whether files that are there may be replaced.

    Raises
    ------
    InputError
        If the folder cannot be made, or holds the list of contents of an earlier
        call and that may not be replaced.
    """
    _check_folder(folder.parent)
    if folder.exists():
        _check_folder(folder)
    check_target(folder / f"contents.{form}", overwrite=overwrite)


def _check_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise InputError(
            "This is no folder.",
            source=str(folder),
            remedy="choose a folder that exists and can be written",
        )


def place_report(
    page: Path, report: str, workbook: bytes | None, *, overwrite: bool
) -> None:
    """Put a page and the workbook beside it in their place, both or neither.

    Parameters
    ----------
    page : Path
        Target of the page; the workbook has its name with the ending ``.xlsx``.
    report : str
        The page.
    workbook : bytes or None
        None leaves a workbook that is there as it is.
    overwrite : bool
        Whether what is there may be replaced.

    Raises
    ------
    InputError
        If a file is there and may not be replaced, or cannot be written.
    """
    parts = {page: report.encode("utf-8")}
    if workbook is not None:
        # the page last: where it is, its workbook is
        parts = {page.with_suffix(".xlsx"): workbook, **parts}
    with placing_all(list(parts), overwrite=overwrite) as write:
        for path, contents in parts.items():
            write(path, contents)


def write_tables(
    tables: ReportTables, folder: Path, form: TableForm, *, overwrite: bool
) -> tuple[Path, ...]:
    """Write each table of a report to a file of its own, all or none.

    Parameters
    ----------
    tables : ReportTables
        The report.
    folder : Path
        Made where it is not there; the folder around it must be.
    form : {"csv", "json", "parquet"}
        JSON files hold a list of flat records.
    overwrite : bool
        Whether files that are there may be replaced.

    Returns
    -------
    tuple of Path
        ``contents``, one file a table by its id, ``columns`` and ``definitions``.

    Raises
    ------
    InputError
        If the folder cannot be made or written, or holds such files already and
        they may not be replaced.
    """
    sheets = (
        contents_sheet(tables),
        *tables.sheets,
        columns_sheet(tables),
        definitions_sheet(tables),
    )
    paths = [folder / f"{sheet.id}.{form}" for sheet in sheets]
    check_tables(folder, form, overwrite=overwrite)
    folder.mkdir(exist_ok=True)
    with placing_all(paths, overwrite=overwrite) as write:
        for sheet, path in zip(sheets, paths, strict=True):
            write(path, _contents_of(sheet, form))
    return tuple(paths)


def _contents_of(sheet: Sheet, form: TableForm) -> bytes:
    """Return one table in the form asked for."""
    frame = typed(sheet)
    if form == "csv":
        return to_csv(frame).encode("utf-8")
    if form == "json":
        return to_json(records(frame)).encode("utf-8")
    types = {
        name: _SQL_TYPES.get(
            sheet.kinds[name], "double" if frame[name].dtype == "float64" else "bigint"
        )
        for name in frame.columns
    }
    with tempfile.TemporaryDirectory() as beside:
        path = Path(beside) / "table.parquet"
        write_parquet(frame, path, types)
        return path.read_bytes()
