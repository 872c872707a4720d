"""Read what is on the shelf and on order: a table by part number, all or nothing."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from claimlens.errors import SourceError
from claimlens.ingest import dates
from claimlens.ingest.null_words import is_null_word
from claimlens.ingest.records import Records, open_records
from claimlens.ingest.skips import fold
from claimlens.ingest.source import SourceBlock
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["STOCK_COLUMNS", "Stock", "StockLine", "read_stock"]

STOCK_COLUMNS = (
    "part_no", "on_hand", "on_order", "minimum_order", "pack_size", "lead_time_days",
    "last_order_date",
)  # fmt: skip
"""Columns of a stock file; the first two must be there."""

_NEEDED = STOCK_COLUMNS[:2]
# the word for a part that goes out of production is short in most lists
_ALIASES = {"ends": "last_order_date"}
_SHOWN_FAULTS = 20
_MOST_PIECES = 100_000_000
_LONGEST_DAYS = 730
_PIECES = re.compile(r"([+\-−]?)(\d+)(?:[.,]0{1,2})?")
_TIME = re.compile(r"([+\-−]?)(\d+(?:[.,]\d+)?)\s*([A-Za-z]*)\.?")
_UNITS = {
    **dict.fromkeys(("", "d", "day", "days"), 1.0),
    **dict.fromkeys(("w", "wk", "wks", "week", "weeks"), 7.0),
    **dict.fromkeys(("month", "months"), DAYS_PER_MONTH),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """One part of a stock file.

    Parameters
    ----------
    part_no : str
        As written.
    on_hand : int
        Pieces on the shelf.
    on_order : int
        Pieces ordered and not yet here; 0 where nothing is said.
    minimum_order, pack_size : int
        Least order and pieces in a pack; 1 where nothing is said.
    lead_time_days : int or None
        From order to delivery.
    last_order_date : date or None
        Last day on which it can be ordered, of a part going out of production.
    place : str
        Line or row of the file.
    """

    part_no: str
    on_hand: int
    on_order: int = 0
    minimum_order: int = 1
    pack_size: int = 1
    lead_time_days: int | None = None
    last_order_date: date | None = None
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What is on the shelf and on order.

    Parameters
    ----------
    lines : tuple of StockLine
        In the order of the file, each part once.
    skipped : int
        Lines below the headers that were taken for no rows: blanks, totals, notes.
    """

    lines: tuple[StockLine, ...] = ()
    skipped: int = 0


def read_stock(path: Path) -> Stock:
    """Read a stock file, delimited text or workbook.

    Parameters
    ----------
    path : Path
        With the headers of ``STOCK_COLUMNS``; ``part_no`` and ``on_hand`` must be
        there, ``ends`` may stand for ``last_order_date``. Other columns are passed
        over.

    Returns
    -------
    Stock

    Raises
    ------
    SourceError
        If the file cannot be read, a column is missing, or any cell cannot be used;
        every fault is told with line, column and what to do.
    """
    source = SourceBlock(
        name="stock",
        kind="parts",
        columns={name: name for name in (*STOCK_COLUMNS, *_ALIASES)},
    )
    records = open_records(path, source=source)
    columns = _columns(records, path)
    word = "row" if records.is_workbook else "line"
    places: list[str] = []
    values: dict[str, list[str | None]] = {name: [] for name in columns}
    for chunk in records.chunks():
        places += [f"{word} {row}" for row in chunk.rows]
        for name, header in columns.items():
            values[name] += chunk.values[header]
    faults = [f"{word} {bad.row}: {bad.reason}" for bad in records.rejected]
    days = _Days(values.get("last_order_date", []), records)
    lines = []
    for at, place in enumerate(places):
        cells = {
            name: text
            for name, column in values.items()
            if (text := column[at]) is not None
            and (name == "part_no" or not is_null_word(text))
        }
        line = _line(cells, place, faults, days)
        if line is not None:
            lines.append(line)
    faults += _twice(lines)
    if not places and not faults:
        faults = ["there is no row below the headers"]
    if faults:
        raise _faults_error(faults, path)
    above = (records.layout.header_row or 1) - 1
    return Stock(lines=tuple(lines), skipped=records.skipped_lines - above)


def _columns(records: Records, path: Path) -> dict[str, str]:
    """Return the header of each column that is read."""
    found: dict[str, str] = {}
    unread: list[str] = []
    for header in records.headers:
        plain = fold(header).replace(" ", "_")
        close = {name.replace("_", ""): name for name in (*STOCK_COLUMNS, *_ALIASES)}
        name = close.get(plain.replace("_", ""), plain)
        name = _ALIASES.get(name, name)
        if name not in STOCK_COLUMNS:
            unread.append(plain)
        elif name in found:
            raise SourceError(
                f"The headers {found[name]!r} and {header!r} both mean {name}.",
                source=str(path),
                remedy="leave one of the two columns",
            )
        else:
            found[name] = header
    for name in STOCK_COLUMNS:
        near = get_close_matches(name, unread, 1, 0.8)
        if name not in found and (near or name in _NEEDED):
            raise SourceError(
                f"No column of the stock file is called {name}.",
                source=str(path),
                line=records.layout.header_row,
                column=near[0] if near else None,
                remedy=f"call the column {near[0]!r} {name}"
                if near
                else f"add it; columns are {', '.join(STOCK_COLUMNS)}",
            )
    return found


class _Days:
    """Reads the dates of the column, if all are written in one way."""

    def __init__(self, texts: list[str | None], records: Records) -> None:
        distinct = {text for text in texts if text is not None}
        reading = dates.detect(distinct)
        self.is_ambiguous = reading.ambiguous
        form = reading.candidates[0] if reading.candidates else None
        serials = (records.date_epoch or True) if records.is_workbook else False
        self._days = dates.parse(distinct, form, excel_serials=serials)

    def __call__(self, text: str) -> date | None:
        return None if self.is_ambiguous else self._days[text]


def _line(
    cells: Mapping[str, str], place: str, faults: list[str], days: _Days
) -> StockLine | None:
    """Return one line, or None after adding to the faults."""
    before = len(faults)

    def read(
        name: str, reader: Callable[[str], int | str], missing: str = ""
    ) -> int | None:
        text = cells.get(name)
        found = missing or None if text is None else reader(text)
        if isinstance(found, str):
            faults.append(f"{place}, column {name}: {found}")
            return None
        return found

    part_no = cells.get("part_no")
    if part_no is None:
        faults.append(
            f"{place}, column part_no: empty; write the part number or delete the row"
        )
    on_hand = read("on_hand", _pieces, "empty; write 0 where there is none")
    on_order = read("on_order", _pieces)
    minimum = read("minimum_order", _pieces)
    pack = read("pack_size", _pieces)
    lead = read("lead_time_days", _lead_days)
    text = cells.get("last_order_date")
    last = days(text) if text is not None else None
    if text is not None and last is None:
        why = "can be day/month or month/day" if days.is_ambiguous else "is no date"
        faults.append(
            f"{place}, column last_order_date: {text!r} {why}; write it as YYYY-MM-DD"
        )
    if len(faults) > before or part_no is None or on_hand is None:
        return None
    return StockLine(
        part_no=part_no,
        on_hand=on_hand,
        on_order=on_order or 0,
        minimum_order=max(minimum or 1, 1),
        pack_size=max(pack or 1, 1),
        lead_time_days=lead,
        last_order_date=last,
        place=place,
    )


def _pieces(text: str) -> int | str:
    """Return a number of pieces, or why the text is none."""
    match = _PIECES.fullmatch(text.strip())
    if match is None:
        return (
            f"{text!r} is no number of pieces; write a whole number without a unit "
            "and without a sign between the thousands"
        )
    if match[1] in ("-", "−") and int(match[2]):
        return (
            f"{text!r} is below 0; count the shelf again, and write 0 where there is "
            "none"
        )
    if int(match[2]) > _MOST_PIECES:
        return f"{text!r} is more than {_MOST_PIECES:,} pieces; check the number"
    return int(match[2])


def _lead_days(text: str) -> int | str:
    """Return a time in days, or why the text is none."""
    match = _TIME.fullmatch(text.strip())
    if match is None or match[3].lower() not in _UNITS:
        return (
            f"{text!r} is no time; write the days as a number, or with days, weeks or "
            "months behind it"
        )
    days = math.ceil(float(match[2].replace(",", ".")) * _UNITS[match[3].lower()])
    if match[1] in ("-", "−") and days:
        return f"{text!r} is below 0; write the days from order to delivery"
    if days > _LONGEST_DAYS:
        return f"{text!r} is longer than {_LONGEST_DAYS} days; check the number"
    return days


def _twice(lines: list[StockLine]) -> list[str]:
    """Say which part stands in two lines."""
    first: dict[str, StockLine] = {}
    faults = []
    for line in lines:
        key = line.part_no.upper()
        if key in first:
            faults.append(
                f"{line.place}, column part_no: {line.part_no} stands in "
                f"{first[key].place} too; put the stock of a part into one row"
            )
        first.setdefault(key, line)
    return faults


def _faults_error(faults: list[str], path: Path) -> SourceError:
    shown = [f"  - {fault}" for fault in faults[:_SHOWN_FAULTS]]
    more = len(faults) - len(shown)
    if more:
        shown.append(f"  - and {more:,} more")
    number = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
    return SourceError(
        f"The stock file has {number}; nothing was worked out.\n" + "\n".join(shown),
        source=str(path),
        remedy="mend the rows and ask again",
    )
