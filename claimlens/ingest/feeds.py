"""Turn the lines of a table into chunks, every line accounted."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import cast

from claimlens.ingest.grid import Grid
from claimlens.ingest.lines import Record
from claimlens.ingest.skips import RowJudge
from claimlens.ingest.source import Chunk
from claimlens.results import Reject

__all__ = ["CHUNK_ROWS", "GridFeed", "Layout", "Records", "Tally", "stripped"]

CHUNK_ROWS = 50_000
_CHUNK_CHARACTERS = 100_000_000
_TURN_ROWS = 500
_RAW_LENGTH = 200
_WRAPPED = re.compile(r'="([^"]*)"')


@dataclass(slots=True)
class Tally:
    """What became of the lines of a file so far."""

    rejected: list[Reject] = field(default_factory=list)
    skipped_lines: int = 0
    rows_read: int = 0

    def reject(self, row: int, raw: str, reason: str) -> None:
        """Count a line that cannot be a row."""
        self.rows_read += 1
        value = raw.rstrip("\r\n")[:_RAW_LENGTH]
        self.rejected.append(Reject(row, None, value, reason))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How a file was read."""

    kind: str
    header_row: int | None = None
    encoding: str | None = None
    encoding_why: str = ""
    delimiter: str | None = None
    sheet: str | None = None
    sheets: tuple[str, ...] = ()
    records: str | None = None
    paths: tuple[str, ...] = ()
    date_epoch: int | None = None
    titles: tuple[str, ...] = ()


class Records:
    """The records of one file.

    Parameters
    ----------
    headers : tuple of str
        Header texts on one line; every chunk has these columns.
    layout : Layout
        How the file was read.
    feed : callable
        Yields the chunks and fills the tally.
    """

    def __init__(
        self,
        headers: tuple[str, ...],
        layout: Layout,
        feed: Callable[[Tally], Iterator[Chunk]],
    ) -> None:
        self.headers = headers
        self.layout = layout
        self._feed = feed
        self._tally = Tally()

    def chunks(self) -> Iterator[Chunk]:
        """Yield the rows; the account below is complete when they are exhausted."""
        self._tally = Tally()
        yield from self._feed(self._tally)

    @property
    def rejected(self) -> list[Reject]:
        """Return the lines that cannot be rows, with raw text and reason."""
        return self._tally.rejected

    @property
    def skipped_lines(self) -> int:
        """Return the lines that are no rows: titles, blanks, totals, notes."""
        return self._tally.skipped_lines

    @property
    def rows_read(self) -> int:
        """Return the rows in chunks plus the rejected ones."""
        return self._tally.rows_read

    @property
    def is_workbook(self) -> bool:
        """Return whether numbers in date columns may be day numbers."""
        return self.layout.kind == "workbook"

    @property
    def date_epoch(self) -> int | None:
        """Return 1900 or 1904 where numbers may stand for dates."""
        return self.layout.date_epoch


class _Batch:
    """Gathers rows and turns them into columns a few at a time.

    Rows are lists that the garbage collector must walk; columns of text are
    not worth its while. Turning early keeps reading fast.
    """

    def __init__(self, width: int) -> None:
        self.rows: list[int] = []
        self.spans: list[int] = []
        self._columns: list[list[str | None]] = [[] for _ in range(width)]
        self._waiting: list[list[str]] = []
        self._size = 0

    def add(self, row: int, n_lines: int, cells: list[str]) -> None:
        """Take one row of full width."""
        self.rows.append(row)
        self.spans.append(n_lines)
        self._waiting.append(cells)
        if len(self._waiting) >= _TURN_ROWS:
            self._turn()

    @property
    def is_full(self) -> bool:
        """Return whether it is time for a chunk: many rows, or long ones."""
        return len(self.rows) >= CHUNK_ROWS or self._size > _CHUNK_CHARACTERS

    def finish(self) -> list[list[str | None]]:
        """Return the columns."""
        self._turn()
        return self._columns

    def _turn(self) -> None:
        for column, cells in zip(
            self._columns, zip(*self._waiting, strict=True), strict=False
        ):
            column.extend(stripped(cells))
            self._size += sum(map(len, cells))
        self._waiting = []


class GridFeed:
    """Turns the lines of a grid into chunks."""

    def __init__(
        self, grid: Grid, names: tuple[str | None, ...], judge: RowJudge
    ) -> None:
        self._grid = grid
        self._names = names
        self._judge = judge
        # Nameless columns at the end may be missing from rows.
        named = [index for index, name in enumerate(names) if name is not None]
        self._least = named[-1] + 1
        self._wrapped = [
            index
            for index in range(grid.width)
            if any(
                _WRAPPED.fullmatch(row[index].strip())
                for row in grid.sample
                if len(row) > index
            )
        ]

    def __call__(self, tally: Tally) -> Iterator[Chunk]:
        """Yield chunks."""
        tally.skipped_lines = self._grid.lines_above
        width = self._grid.width
        batch = _Batch(width)
        for record in self._grid.body():
            row, n_lines, cells, _ = record
            if cells is not None and not any(cells):
                # one far cell makes a sheet of a million of these
                tally.skipped_lines += n_lines
                continue
            if cells is None or len(cells) != width:
                cells = self._repaired(record, tally)
                if cells is None:
                    continue
            batch.add(row, n_lines, cells)
            if batch.is_full:
                yield self._chunk(batch, tally)
                batch = _Batch(width)
        if batch.rows:
            chunk = self._chunk(batch, tally)
            if chunk.rows:
                yield chunk

    def _repaired(self, record: Record, tally: Tally) -> list[str] | None:
        """Return a record of odd width made whole, or None if it is no row."""
        row, n_lines, cells, raw = record
        width = self._grid.width
        if cells is None:
            reason = (
                "holds NUL bytes"
                if "\0" in raw
                else "a quotation mark is not closed, and without it the number of "
                f"fields is not {width}"
            )
            tally.reject(row, raw, reason)
            return None
        if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
            return cells[:width]
        if self._judge.skips(cells):
            tally.skipped_lines += n_lines
            return None
        if self._least <= len(cells) < width:
            return cells + [""] * (width - len(cells))
        tally.reject(row, raw, f"{len(cells)} fields where the header has {width}")
        return None

    def _chunk(self, batch: _Batch, tally: Tally) -> Chunk:
        """Return a batch as columns, without the lines that are no rows."""
        rows, spans = batch.rows, batch.spans
        columns = batch.finish()
        for index in self._wrapped:
            columns[index] = [_unwrapped(cell) for cell in columns[index]]
        dropped: set[int] = set()
        for index in self._judge.suspects(columns):
            if self._judge.skips([column[index] for column in columns]):
                dropped.add(index)
                tally.skipped_lines += spans[index]
        self._reject_nameless(rows, columns, dropped, tally)
        if dropped:
            kept = [index for index in range(len(rows)) if index not in dropped]
            rows = [rows[index] for index in kept]
            columns = [[column[index] for index in kept] for column in columns]
        tally.rows_read += len(rows)
        return Chunk(
            rows,
            {
                name: column
                for name, column in zip(self._names, columns, strict=True)
                if name is not None
            },
        )

    def _reject_nameless(
        self,
        rows: list[int],
        columns: list[list[str | None]],
        dropped: set[int],
        tally: Tally,
    ) -> None:
        """Reject rows with a value in a column that has no name and was empty."""
        for position, name in enumerate(self._names):
            if name is not None or not any(columns[position]):
                continue
            for index, value in enumerate(columns[position]):
                if value is not None and index not in dropped:
                    dropped.add(index)
                    raw = " ".join(column[index] or "" for column in columns)
                    tally.reject(
                        rows[index],
                        raw,
                        f"a value stands in column {position + 1}, which has no header",
                    )


def _unwrapped(cell: str | None) -> str | None:
    """Take the text out of ``="00123"``, which keeps zeros in spreadsheets."""
    match = _WRAPPED.fullmatch(cell) if cell is not None else None
    return match.group(1).strip() or None if match else cell


def stripped(column: tuple[str, ...]) -> list[str | None]:
    """Return the cells without blanks around, empty ones as None."""
    cells = list(map(str.strip, column))
    if "" not in cells:
        return cast("list[str | None]", cells)
    return [cell or None for cell in cells]
