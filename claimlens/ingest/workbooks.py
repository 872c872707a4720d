"""Read workbooks: find the sheet and its header, turn cells into text."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import islice
from pathlib import Path

from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    PasswordError,
    SheetVisibleEnum,
    XmlError,
    ZipError,
)

from claimlens.errors import SourceError
from claimlens.ingest.contents import Contents
from claimlens.ingest.date_shapes import DAYS_1904
from claimlens.ingest.dialect import HeaderFound, find_header
from claimlens.ingest.grid import Grid
from claimlens.ingest.lines import Record
from claimlens.ingest.packed import open_bytes, too_large
from claimlens.ingest.padding import zero_padded
from claimlens.ingest.source import SourceBlock
from claimlens.ingest.workbook_size import check_workbook
from claimlens.settings.limits import MEGA, LimitSettings

__all__ = ["cell_text", "open_workbook_grid"]

_SAMPLE_ROWS = 2_000
_ERROR_CELL = re.compile(r"#(?:N/A|REF!|VALUE!|DIV/0!|NAME\?|NUM!|NULL!|NV|WERT!)")
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")

# What the two libraries raise on files cut or overwritten somewhere.
_DAMAGES = (
    *(CalamineError, ZipError, XmlError, zipfile.BadZipFile, zlib.error),
    *(OSError, EOFError, LookupError, ValueError, SyntaxError),
)

Cell = int | float | str | bool | time | date | datetime | timedelta


def number_text(value: float) -> str:
    """Return the shortest text of a number, to the 15 digits a sheet keeps."""
    if value == int(value) and abs(value) < 1e18:
        return str(int(value))
    return format(Decimal(f"{value:.15g}"), "f")


def cell_text(value: Cell | None) -> str:
    """Return a cell as text.

    Parameters
    ----------
    value : object
        As the workbook library gives it.

    Returns
    -------
    str
        ISO dates (with the time unless it is midnight), whole numbers without
        decimals, ``yes`` or ``no``; empty for empty and for error cells.
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return "" if _ERROR_CELL.fullmatch(value) else value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return number_text(value)
    if isinstance(value, datetime):
        midnight = value.time() == time()
        return (
            value.date().isoformat()
            if midnight
            else value.isoformat(sep=" ", timespec="seconds")
        )
    return value.isoformat() if isinstance(value, date | time) else str(value)


def _whole(path: Path, contents: Contents, limits: LimitSettings) -> bytes:
    """Return the bytes of a workbook, unpacked."""
    most = limits.workbook_mb * MEGA
    with open_bytes(path, compressed=contents.compressed, limits=limits) as stream:
        raw = stream.read(most + 1)
    if len(raw) > most:
        raise too_large(
            path,
            f"The workbook is larger than {limits.workbook_mb:,} MB",
            "workbook_mb",
            f"{limits.workbook_mb:,} MB",
        )
    return raw


def _open(path: Path, contents: Contents, limits: LimitSettings) -> CalamineWorkbook:
    """Open a workbook, or say why it cannot be read."""
    raw = _whole(path, contents, limits)
    locked = SourceError(
        "The workbook is protected by a password.",
        source=str(path),
        remedy="open it in a spreadsheet, save it without a password, load it again",
    )
    if _ENCRYPTED in raw[:65_536] or _ENCRYPTED in raw[-65_536:]:
        raise locked
    check_workbook(path, raw, limits)
    try:
        return CalamineWorkbook.from_filelike(io.BytesIO(raw))
    except PasswordError as error:
        raise locked from error


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    """Turn the libraries' complaints about a damaged workbook into ours."""
    try:
        yield
    except SourceError:
        raise
    except _DAMAGES as error:
        raise SourceError(
            "The workbook is damaged or of an unknown kind.",
            source=str(path),
            remedy="open it in a spreadsheet and save it as .xlsx again",
        ) from error


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A sheet with its first rows and its header."""

    name: str
    sheet: CalamineSheet
    rows: list[list[str]]
    header: HeaderFound | None
    known: int
    hidden: bool


def _first_rows(sheet: CalamineSheet) -> list[list[str]]:
    return [
        [cell_text(cell) for cell in row]
        for row in islice(sheet.iter_rows(), _SAMPLE_ROWS)
    ]


def _candidate(
    book: CalamineWorkbook,
    name: str,
    source: SourceBlock,
    recognise: Callable[[str], bool],
) -> _Candidate:
    """Look at one sheet."""
    sheet = book.get_sheet_by_name(name)
    rows = _first_rows(sheet)
    header = find_header(rows, recognise)
    if source.header_row is not None:
        at = source.header_row - 1
        header = HeaderFound(at, 0.0, 0) if at < len(rows) else None
    known = 0
    if header is not None:
        cells = {" ".join(cell.split()) for cell in rows[header.index]}
        known = (
            len(cells & set(source.columns))
            if source.columns
            else sum(1 for cell in cells if cell and recognise(cell))
        )
    hidden = any(
        data.name == name and data.visible != SheetVisibleEnum.Visible
        for data in book.sheets_metadata
    )
    return _Candidate(name, sheet, rows, header, known, hidden)


def _choose(
    book: CalamineWorkbook,
    source: SourceBlock,
    recognise: Callable[[str], bool],
    path: Path,
) -> _Candidate:
    """Return the named sheet, or the one that looks most like data."""
    names = list(book.sheet_names)
    if source.sheet is not None:
        wanted = source.sheet.strip().casefold()
        names = [name for name in names if name.strip().casefold() == wanted]
        if not names:
            raise SourceError(
                f"The workbook has no sheet {source.sheet!r}.",
                source=str(path),
                remedy=f"its sheets are: {', '.join(book.sheet_names)}",
            )
    found = [_candidate(book, name, source, recognise) for name in names]
    filled = [one for one in found if any(any(row) for row in one.rows)]
    if not filled:
        raise SourceError(
            "The workbook has no rows.",
            source=str(path),
            remedy="export it again, with its header and rows",
        )
    usable = [one for one in filled if one.header is not None]
    if not usable:
        raise SourceError(
            "No sheet has a header row.",
            source=str(path),
            remedy="name the row of the header with `header_row`, and the sheet "
            "with `sheet`, in the source block",
        )
    shown = [one for one in usable if not one.hidden] or usable
    most = max(one.known for one in shown)
    close = [one for one in shown if 2 * one.known >= most]
    return max(close, key=lambda one: (one.sheet.total_height, one.known))


def _is_1904(path: Path, contents: Contents) -> bool:
    """Tell whether day numbers count from 1904."""
    if contents.compressed or not zipfile.is_zipfile(path):
        return False
    with zipfile.ZipFile(path) as archive:
        if "xl/workbook.xml" not in archive.namelist():
            return False
        text = archive.read("xl/workbook.xml").decode("utf-8", "replace")
    return re.search(r'date1904="(?:1|true)"', text) is not None


@dataclass(frozen=True, slots=True)
class _Texts:
    """Turns the rows of a sheet into text.

    ``exact`` are columns of amounts: a number with three decimals gets a
    fourth, so that ``1.234`` is not taken for thousands. ``dates`` are columns
    of dates in a workbook that counts from 1904: their bare day numbers are
    moved to the usual count.
    """

    padded: dict[tuple[int, int], tuple[str, int]]
    exact: frozenset[int]
    dates: frozenset[int]
    first_column: int

    def row(self, number: int, cells: Sequence[Cell]) -> list[str]:
        """Return the texts of a row."""
        texts = [cell_text(cell) for cell in cells]
        for index in self.exact | self.dates:
            value = cells[index]
            if isinstance(value, bool) or not isinstance(value, int | float):
                continue
            if index in self.dates:
                texts[index] = number_text(value + DAYS_1904)
            elif re.fullmatch(r"-?\d+\.\d{3}", texts[index]):
                texts[index] += "0"
        if self.padded:
            for index, text in enumerate(texts):
                pad = self.padded.get((number, index + self.first_column))
                if pad is not None and text.isdigit():
                    texts[index] = pad[0] + text.zfill(pad[1])
        return texts


def open_workbook_grid(
    path: Path,
    *,
    contents: Contents,
    source: SourceBlock,
    recognise: Callable[[str], bool],
    types: Callable[[Sequence[str]], Sequence[str | None]],
) -> Grid:
    """Open a workbook.

    Parameters
    ----------
    path : Path
        An .xlsx, .xlsm, .xlsb, .xls or .ods file.
    contents : Contents
        What `identify` found.
    source : SourceBlock
        Its sheet and header row, where known.
    recognise : callable
        Tells whether a text is a known header word.
    types : callable
        Gives the field type, by position, of the columns with these headers.

    Returns
    -------
    Grid
        Rows of text, numbered as in the sheet.

    Raises
    ------
    SourceError
        If the workbook is locked, damaged or empty, or the sheet is missing.
    """
    with _readable(path):
        book = _open(path, contents, source.limits)
        chosen = _choose(book, source, recognise, path)
        padded = {} if contents.compressed else zero_padded(path, chosen.name)
        shifted = _is_1904(path, contents)
    if chosen.header is None:
        raise SourceError("No header row was found.", source=str(path))
    at = chosen.header.index
    kinds = types(chosen.rows[at])
    start = chosen.sheet.start
    texts = _Texts(
        padded=padded,
        exact=frozenset(
            i for i, kind in enumerate(kinds) if kind in ("money", "number")
        ),
        dates=frozenset(
            i
            for i, kind in enumerate(kinds)
            if shifted and kind in ("date", "timestamp")
        ),
        first_column=1 + (start[1] if start else 0),
    )

    def body() -> Iterator[Record]:
        with _readable(path):
            rows = enumerate(chosen.sheet.iter_rows(), start=1)
            blank = [""] * len(chosen.rows[at])
            for number, cells in islice(rows, at + 1, None):
                row = blank if cells == blank else texts.row(number, cells)
                yield number, 1, row, ""

    return Grid(
        header=tuple(chosen.rows[at]),
        header_row=at + 1,
        width=len(chosen.rows[at]),
        lines_above=at,
        preamble=tuple(tuple(row) for row in chosen.rows[:at]),
        sample=tuple(tuple(row) for row in chosen.rows[at + 1 :]),
        body=body,
        sheet=chosen.name,
        sheets=tuple(book.sheet_names),
        date_epoch=1904 if shifted else 1900,
    )
