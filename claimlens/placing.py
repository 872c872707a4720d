"""Reports put in their place: pages, workbooks, tables one by one."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

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
)

__all__ = [
    "TableForm",
    "check_report",
    "check_tables",
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
