"""Read a workbook that came back: its rows, each cell with its place."""

from __future__ import annotations

import warnings
import zipfile
import zlib
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from xlsxwriter.utility import xl_col_to_name

from claimlens.errors import SourceError
from claimlens.ingest.contents import identify
from claimlens.review.columns import REVIEW_SHEET
from claimlens.settings import LimitSettings

__all__ = ["Cell", "Place", "Row", "faults_error", "read_returned"]

_KEYS = ("claim_no", "sample", "check")
_ANSWERS = ("component", "failure_mode")
_READ = (*_KEYS, *_ANSWERS, "dangerous", "reviewer", "reviewed_on", "remark")
_SEARCHED = 20
_DAMAGES = (
    *(zipfile.BadZipFile, zlib.error, OSError, EOFError, NotImplementedError),
    *(LookupError, ValueError, TypeError, SyntaxError, AttributeError),
)
# a review has some hundred rows, and the library makes an object of every cell
_LIMITS = LimitSettings(cells=1_000_000, workbook_mb=200)

Value = str | int | float | bool | date | datetime | None


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cell stands.

    Parameters
    ----------
    sheet : str
        Its sheet.
    column : int
        Counted from 1; 0 for the row as a whole.
    row : int
        Counted from 1.
    """

    sheet: str
    column: int
    row: int

    def __str__(self) -> str:
        """Return the place as a spreadsheet names it."""
        if not self.column:
            return f"sheet {self.sheet}, row {self.row}"
        cell = f"{xl_col_to_name(self.column - 1)}{self.row}"
        return f"sheet {self.sheet}, row {self.row}, cell {cell}"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell that was read.

    Parameters
    ----------
    value : Value
        As written; text without blanks around it, None where there is none.
    place : Place
        Where it stands.
    is_formula : bool
        Whether it holds a formula in place of a value.
    """

    value: Value
    place: Place
    is_formula: bool = False

    @property
    def text(self) -> str:
        """Return the value as text, empty where there is none."""
        if self.value is None:
            return ""
        if isinstance(self.value, float) and self.value.is_integer():
            return str(int(self.value))
        return str(self.value)


Row = dict[str, Cell]
"""The cells of a row by header; a column that is not there has no key."""


def read_returned(path: Path, *, has_defaults: bool) -> list[Row]:
    """Read the review sheet of a workbook.

    Parameters
    ----------
    path : Path
        An .xlsx file, whatever program saved it.
    has_defaults : bool
        Whether reviewer and day are given apart, so that their columns may be
        missing.

    Returns
    -------
    list of Row
        Every row with any cell filled, hidden and filtered ones too.

    Raises
    ------
    SourceError
        If it is no such workbook, or lacks the sheet or a column, or has merged
        cells among its rows.
    """
    book = _open(path)
    page = _sheet(book, path)
    header_row, columns = _header(page, path)
    needed = [*_KEYS, *_ANSWERS]
    if not has_defaults:
        needed += ["reviewer", "reviewed_on"]
    _refuse_columns(columns, needed, header_row, page.title, path)
    _refuse_merged(page, header_row, path)
    rows: list[Row] = []
    for cells in page.iter_rows(min_row=header_row + 1):
        found: Row = {}
        for name, at in ((name, places[0]) for name, places in columns.items()):
            if name in _READ and at <= len(cells):
                found[name] = _read(cells[at - 1], page.title, at)
        if any(cell.value is not None for cell in found.values()):
            rows.append(found)
    return rows


def faults_error(faults: list[str], path: Path, remedy: str) -> SourceError:
    """Return the error that lists every fault of a workbook."""
    n = len(faults)
    listed = "\n".join(f"  - {fault}" for fault in faults)
    return SourceError(
        f"The workbook has {n} fault{'' if n == 1 else 's'}; nothing was applied.\n"
        f"{listed}",
        source=str(path),
        remedy=remedy,
    )


def _open(path: Path) -> Any:
    """Open a workbook, or say what the file is instead."""
    contents = identify(path, _LIMITS)
    save = (
        "open the workbook that was handed out, put the answers there, and save it as "
        ".xlsx"
    )
    if contents.kind != "workbook":
        what = {"text": "delimited text (CSV)"}.get(contents.kind, contents.kind)
        raise SourceError(
            f"The file holds {what}, not a workbook: keys, lists and dates are no "
            "longer protected in it.",
            source=str(path),
            remedy=save,
        )
    if not zipfile.is_zipfile(path) or not _is_xlsx(path):
        raise SourceError(
            "The workbook is not in the form .xlsx.", source=str(path), remedy=save
        )
    # nothing else of a workspace needs these libraries, which are slow to load
    import openpyxl

    from claimlens.ingest.workbook_size import check_workbook

    try:
        with warnings.catch_warnings():
            # it speaks of lists and looks that it cannot keep; we only read
            warnings.simplefilter("ignore")
            check_workbook(path, path.read_bytes(), _LIMITS)
            return openpyxl.load_workbook(path)
    except SourceError:
        raise
    except _DAMAGES as error:
        raise SourceError(
            "The workbook is damaged.",
            source=str(path),
            remedy="open it in a spreadsheet and save it as .xlsx again",
        ) from error


def _is_xlsx(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as archive:
            return "xl/workbook.xml" in archive.namelist()
    except (zipfile.BadZipFile, OSError):
        return False


def _sheet(book: Any, path: Path) -> Any:
    for page in book.worksheets:
        if page.title.strip().lower() == REVIEW_SHEET:
            return page
    raise SourceError(
        f"The workbook has no sheet {REVIEW_SHEET!r}; it has "
        f"{', '.join(repr(name) for name in book.sheetnames)}.",
        source=str(path),
        remedy=f"give the sheet of the answers its name {REVIEW_SHEET!r} again, or "
        "take the workbook that was handed out",
    )


def _header(page: Any, path: Path) -> tuple[int, dict[str, list[int]]]:
    """Return the row of the headers, and the columns of each header."""
    for number, cells in enumerate(
        page.iter_rows(min_row=1, max_row=_SEARCHED, values_only=True), start=1
    ):
        columns: dict[str, list[int]] = {}
        for at, value in enumerate(cells, start=1):
            if isinstance(value, str) and value.strip():
                columns.setdefault(value.strip().lower(), []).append(at)
        if {"claim_no", "component"} <= columns.keys():
            return number, columns
    raise SourceError(
        f"The sheet {page.title!r} has no row with the headers claim_no and component.",
        source=str(path),
        remedy="put the headers back as they were handed out",
    )


def _refuse_columns(
    columns: dict[str, list[int]],
    needed: list[str],
    header_row: int,
    sheet: str,
    path: Path,
) -> None:
    """Refuse a sheet that lacks a column, or has one twice."""
    faults = []
    for name in needed:
        if name not in columns:
            near = get_close_matches(name, [c for c in columns if c not in _READ], 1)
            place = Place(sheet, columns[near[0]][0], header_row) if near else None
            hint = f"; {place} says {near[0]!r}" if near else ""
            faults.append(f"the column {name} is missing{hint}")
    for name in _READ:
        places = columns.get(name, [])
        if len(places) > 1:
            cells = ", ".join(f"{xl_col_to_name(at - 1)}{header_row}" for at in places)
            faults.append(
                f"{len(places)} columns are called {name}: sheet {sheet}, {cells}"
            )
    if faults:
        raise faults_error(faults, path, "put the headers back as they were handed out")


def _refuse_merged(page: Any, header_row: int, path: Path) -> None:
    merged = [
        str(area)
        for area in sorted(page.merged_cells.ranges, key=lambda a: (a.min_row, str(a)))
        if area.max_row > header_row
    ]
    if merged:
        raise faults_error(
            [f"sheet {page.title}: the cells {area} are merged" for area in merged],
            path,
            "split the cells and write an answer in each row: what stands in merged "
            "cells belongs to their first row alone",
        )


def _read(cell: Any, sheet: str, column: int) -> Cell:
    value = cell.value
    if isinstance(value, str):
        value = value.strip() or None
    return Cell(value, Place(sheet, column, cell.row), cell.data_type == "f")
