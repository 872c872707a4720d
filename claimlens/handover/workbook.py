"""Workbooks: one answer, or all tables of a report."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from claimlens.errors import InputError
from claimlens.handover.cells import neutral, records
from claimlens.handover.files import check_target
from claimlens.handover.sheets import (
    ReportTables,
    Sheet,
    columns_sheet,
    definitions_sheet,
    typed,
)
from claimlens.marks import visible

__all__ = ["legal_names", "legal_text", "workbook_bytes", "write_workbook"]

#: Most characters of a cell, and of the name of a sheet (ECMA-376 part 1, 18.2.19,
#: gives the second; both stand in the maker's published limits of a worksheet).
MOST_CHARACTERS = 32_767
LONGEST_NAME = 31
MOST_ROWS = 1_048_576

_OPTIONS = {
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
_FORMATS = {
    "count": "#,##0",
    "number": "#,##0.0",
    "ratio": "0.00",
    "share": "0.00%",
    "chance": "0.0000",
    "money": "#,##0.00",
    "months": "0.0",
    "year": "0",
    "month": "yyyy-mm",
    "date": "yyyy-mm-dd",
}
_WIDEST = 60
_FIRST_SHEET = "About"
_FIRST_YEAR = 1901


def write_workbook(
    frame: pd.DataFrame, path: Path, *, sheet: str, overwrite: bool
) -> None:
    """Write a frame as a workbook with one sheet and a frozen header.

    Parameters
    ----------
    frame : pandas.DataFrame
        What leaves.
    path : Path
        Target.
    sheet : str
        Name of the sheet, up to 31 characters.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced.
    """
    check_target(path, overwrite=overwrite)
    with xlsxwriter.Workbook(str(path), _OPTIONS) as book:
        # a fixed date: the same results give the same file
        book.set_properties({"created": datetime(2000, 1, 1)})
        page = book.add_worksheet(sheet[:LONGEST_NAME])
        head = book.add_format({"bold": True, "bottom": 1})
        page.freeze_panes(1, 0)
        for column, name in enumerate(frame.columns):
            page.write_string(0, column, legal_text(str(name)), head)
        for row, record in enumerate(records(frame), start=1):
            for column, cell in enumerate(record.values()):
                if isinstance(cell, str):
                    page.write_string(row, column, legal_text(cell))
                elif cell is not None:
                    page.write(row, column, cell)


def legal_text(text: str) -> str:
    """Return a text that a cell can hold and no spreadsheet takes for a formula.

    Parameters
    ----------
    text : str
        Any text that came from data.

    Returns
    -------
    str
        What is hidden in it visible, old line ends as new ones, a text too long
        for a cell cut with a mark that says by how much.
    """
    shown = neutral(visible(text.replace("\r\n", "\n").replace("\r", "\n")))
    if _length(shown) <= MOST_CHARACTERS:
        return shown
    kept = shown[: MOST_CHARACTERS - 60]
    while _length(kept) > MOST_CHARACTERS - 60:
        kept = kept[: len(kept) - max(1, (_length(kept) - MOST_CHARACTERS + 60) // 2)]
    return f"{kept} [... cut: {len(shown) - len(kept):,} more characters]"


def _length(text: str) -> int:
    """Count as a spreadsheet does: characters beyond the first plane are two."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def legal_names(titles: Iterable[str], taken: Iterable[str] = ()) -> list[str]:
    """Return names that sheets of one workbook may have.

    Parameters
    ----------
    titles : iterable of str
        What they are to be called.
    taken : iterable of str, optional
        Names that are in the workbook already.

    Returns
    -------
    list of str
        At most 31 characters, without ``[ ] : * ? / \\``, without an apostrophe
        at either end, each once whatever its case.
    """
    used = {name.casefold() for name in taken} | {"history"}
    names: list[str] = []
    for title in titles:
        clean = visible(re.sub(r"[\[\]:*?/\\\t\n]", " ", title))
        clean = " ".join(clean.split()).strip("'") or "table"
        name, number = _cut(clean, ""), 1
        while name.casefold() in used:
            number += 1
            name = _cut(clean, f" ({number})")
        used.add(name.casefold())
        names.append(name)
    return names


def _cut(name: str, tail: str) -> str:
    kept = name
    while _length(kept + tail) > LONGEST_NAME:
        kept = kept[:-1]
    return kept.rstrip(" '") + tail


@dataclass(frozen=True, slots=True)
class _Pen:
    """The formats of one workbook."""

    head: Format
    bold: Format
    wrapped: Format
    link: Format
    title: Format
    by_kind: Mapping[str, Format]
    fraction: Format
    plain: Format


def workbook_bytes(tables: ReportTables) -> bytes:
    """Return all tables of a report as a workbook.

    Parameters
    ----------
    tables : ReportTables
        The report.

    Returns
    -------
    bytes
        First a sheet that says what it is and lists the others, with links; then
        one sheet a table, with its header in the first row, frozen, and a
        filter; then what every column holds, and the definitions. Numbers and
        dates are numbers and dates. The same bytes for the same tables.

    Raises
    ------
    InputError
        If a table has more rows than a sheet holds.
    """
    contents = io.BytesIO()
    sheets = (*tables.sheets, columns_sheet(tables), definitions_sheet(tables))
    for sheet in sheets:
        if len(sheet.frame) >= MOST_ROWS:
            raise InputError(
                f"The table {sheet.id} has {len(sheet.frame):,} rows, more than a "
                "sheet holds.",
                source=tables.title,
                remedy="write it with --format csv, or leave out the workbook",
            )
    names = legal_names([sheet.title for sheet in sheets], [_FIRST_SHEET])
    with xlsxwriter.Workbook(contents, {**_OPTIONS, "in_memory": True}) as book:
        book.set_properties(
            {"title": legal_text(tables.title), "created": datetime(2000, 1, 1)}
        )
        pen = _pen(book)
        _write_about(book.add_worksheet(_FIRST_SHEET), tables, sheets, names, pen)
        for sheet, name in zip(sheets, names, strict=True):
            _write_sheet(book.add_worksheet(name), sheet, pen)
    return contents.getvalue()


def _pen(book: xlsxwriter.Workbook) -> _Pen:
    return _Pen(
        head=book.add_format({"bold": True, "bottom": 1, "valign": "top"}),
        bold=book.add_format({"bold": True, "valign": "top"}),
        wrapped=book.add_format({"text_wrap": True, "valign": "top"}),
        link=book.add_format(
            {"font_color": "#0b5394", "underline": 1, "valign": "top"}
        ),
        title=book.add_format({"bold": True, "font_size": 14}),
        by_kind={
            kind: book.add_format({"num_format": code, "valign": "top"})
            for kind, code in _FORMATS.items()
        },
        fraction=book.add_format({"num_format": "#,##0.0", "valign": "top"}),
        plain=book.add_format({"valign": "top"}),
    )


def _write_about(
    page: Worksheet,
    tables: ReportTables,
    sheets: Iterable[Sheet],
    names: Iterable[str],
    pen: _Pen,
) -> None:
    """Fill the first sheet: what this is, and where everything stands."""
    page.set_column(0, 0, 34)
    page.set_column(1, 1, 12)
    page.set_column(2, 3, _WIDEST)
    page.write_string(0, 0, legal_text(tables.title), pen.title)
    row = 2
    for label, value in tables.about:
        page.write_string(row, 0, legal_text(label), pen.bold)
        page.write_string(row, 1, legal_text(value))
        row += 1
    row += 1
    for column, heading in enumerate(("sheet", "rows", "what it rests on", "note")):
        page.write_string(row, column, heading, pen.head)
    for sheet, name in zip(sheets, names, strict=True):
        row += 1
        place = name.replace("'", "''")
        page.write_url(row, 0, f"internal:'{place}'!A1", pen.link, name)
        page.write_number(row, 1, len(sheet.frame), pen.by_kind["count"])
        page.write_string(row, 2, legal_text(sheet.basis), pen.wrapped)
        page.write_string(row, 3, legal_text(sheet.note), pen.wrapped)


def _write_sheet(page: Worksheet, sheet: Sheet, pen: _Pen) -> None:
    """Fill the sheet of one table."""
    frame = typed(sheet)
    page.freeze_panes(1, 0)
    page.set_landscape()
    page.repeat_rows(0)
    page.fit_to_pages(1, 0)
    page.set_footer("&L&A&R&P / &N")
    # keys such as 0042 are texts on purpose
    page.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    for column, name in enumerate(frame.columns):
        style = _style(sheet, str(name), frame[name], pen)
        page.write_string(0, column, legal_text(str(name)), pen.head)
        # three more for the arrow of the filter
        widest = len(str(name)) + 3
        for row, value in enumerate(frame[name], start=1):
            if not pd.isna(value):
                widest = max(widest, _write_cell(page, row, column, value, style))
        page.set_column(column, column, min(max(widest + 1, 8), _WIDEST))
    if len(frame.columns):
        page.autofilter(0, 0, len(frame), len(frame.columns) - 1)


def _style(sheet: Sheet, name: str, values: pd.Series, pen: _Pen) -> Format:
    """Choose how a column is shown."""
    kind = sheet.kinds[name]
    if kind == "count" and values.dtype == "float64":
        return pen.fraction
    if kind not in pen.by_kind:
        return pen.wrapped if sheet.id == "definitions" else pen.plain
    return pen.by_kind[kind]


def _write_cell(
    page: Worksheet, row: int, column: int, value: object, style: Format
) -> int:
    """Write one cell; return how many characters wide it is shown."""
    if isinstance(value, date) and value.year < _FIRST_YEAR:
        # a spreadsheet has no such date
        value = value.isoformat()[:10]
    if isinstance(value, date):
        page.write_datetime(row, column, value, style)
        return 10
    if isinstance(value, bool | np.bool_):
        page.write_boolean(row, column, bool(value), style)
        return 5
    if isinstance(value, int | float | np.number):
        page.write_number(row, column, float(value), style)
        return len(f"{float(value):,.2f}")
    text = legal_text(str(value))
    page.write_string(row, column, text, style)
    return max((len(line) for line in text.split("\n")), default=0)
