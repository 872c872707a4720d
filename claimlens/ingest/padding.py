"""Numbers that a workbook shows with leading zeros, such as serial 0042."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import xlrd

from claimlens.ingest.workbook_size import XLS_DAMAGES

__all__ = ["Places", "as_padded", "zero_padded"]

Places = dict[tuple[int, int], tuple[str, int]]
"""Row and column of a cell, counted from 1, to its prefix and number of digits."""

_PADDED = re.compile(r'(?P<prefix>(?:"[^"]*"|\\.)*)(?P<zeros>0{2,})(?:;.*)?')


def as_padded(value: object, form: str) -> str:
    """Return a cell as its sheet shows it, as far as zeros before a number go.

    Parameters
    ----------
    value : object
        A number or anything else.
    form : str
        Its number format.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    plain = str(int(value)) if value == int(value) else str(value)
    padding = _padding_of(form)
    return plain if padding is None else padding[0] + plain.zfill(padding[1])


def _padding_of(form: str) -> tuple[str, int] | None:
    """Return prefix and digits of a number format; None where it does not pad."""
    match = _PADDED.fullmatch(form)
    if match is None:
        return None
    return re.sub(r'"|\\', "", match.group("prefix")), len(match.group("zeros"))


def zero_padded(path: Path, sheet: str) -> Places:
    """Return the cells whose number format shows leading zeros.

    The fast reader knows values and no formats; so only workbooks that have such
    a format are read a second time, with the library that knows them.

    Parameters
    ----------
    path : Path
        A workbook, .xlsx or .xls; other formats give nothing.
    sheet : str
        Name of the sheet.

    Returns
    -------
    dict
        Place to prefix and digits; empty where no format pads.
    """
    found: Places = {}
    cells = _xlsx_formats if zipfile.is_zipfile(path) else _xls_formats
    for row, column, form in cells(path, sheet):
        padding = _padding_of(form)
        if padding is not None:
            found[row, column] = padding
    return found


def _xlsx_formats(path: Path, sheet: str) -> Iterator[tuple[int, int, str]]:
    """Yield row, column and format of the numbers of an .xlsx sheet."""
    with zipfile.ZipFile(path) as archive:
        if "xl/styles.xml" not in archive.namelist():
            return
        styles = archive.read("xl/styles.xml").decode("utf-8", "replace")
    codes = re.findall(r'formatCode="([^"]*)"', styles)
    if not any(_PADDED.fullmatch(code.replace("&quot;", '"')) for code in codes):
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's remarks on odd styles
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
        try:
            for row in book[sheet].iter_rows():
                for cell in row:
                    if isinstance(cell.value, int | float):
                        yield cell.row, cell.column, cell.number_format
        finally:
            book.close()


def _xls_formats(path: Path, sheet: str) -> Iterator[tuple[int, int, str]]:
    """Yield row, column and format of the numbers of an .xls sheet."""
    try:
        # its remarks on odd files must not land among our output
        with xlrd.open_workbook(
            str(path), formatting_info=True, logfile=io.StringIO()
        ) as book:
            forms = {
                number: book.format_map[style.format_key].format_str
                for number, style in enumerate(book.xf_list)
            }
            if not any(_PADDED.fullmatch(form) for form in forms.values()):
                return
            page = book.sheet_by_name(sheet)
            for row in range(page.nrows):
                for column, cell in enumerate(page.row(row)):
                    if cell.ctype == xlrd.XL_CELL_NUMBER:
                        yield row + 1, column + 1, forms[cell.xf_index]
    except XLS_DAMAGES:
        # the values were read; only the zeros that a format adds stay unknown
        return
