"""Open any export as records: rows in chunks of columns, every line accounted."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

from claimlens.db.parquet import parquet_rows, parquet_size
from claimlens.errors import QueryError, SourceError
from claimlens.ingest.contents import identify
from claimlens.ingest.feeds import (
    CHUNK_ROWS,
    GridFeed,
    Layout,
    Records,
    Tally,
    stripped,
)
from claimlens.ingest.grid import Grid, header_names
from claimlens.ingest.headers import column_types, is_known_header, row_roles
from claimlens.ingest.json_records import JsonTable, open_json
from claimlens.ingest.lines import Record
from claimlens.ingest.packed import too_large
from claimlens.ingest.skips import RowJudge
from claimlens.ingest.source import Chunk, SourceBlock
from claimlens.ingest.text import open_text_grid
from claimlens.settings.limits import MEGA, LimitSettings

__all__ = ["Chunk", "Layout", "Records", "SourceBlock", "open_records", "text_records"]

_FLOAT_WHOLE = re.compile(r"-?\d+\.0")


def _from_grid(grid: Grid, path: Path, source: SourceBlock, kind: str) -> Records:
    """Return the records of a grid."""
    names = header_names(
        grid.header,
        width=grid.width,
        sample=grid.sample,
        source=str(path),
        header_row=grid.header_row,
    )
    if not any(names):
        raise SourceError(
            "The header row is empty.",
            source=str(path),
            line=grid.header_row,
            remedy="name the header's line with `header_row` in the source block",
        )
    texts = tuple(name or "" for name in names)
    key, required = row_roles(texts, source)
    judge = RowJudge.learn(
        texts,
        key=key,
        required=required,
        rows=grid.sample,
        preamble=grid.preamble,
    )
    layout = Layout(
        kind=kind,
        header_row=grid.header_row,
        encoding=grid.encoding,
        encoding_why=grid.encoding_why,
        delimiter=grid.delimiter,
        sheet=grid.sheet,
        sheets=grid.sheets,
        date_epoch=grid.date_epoch,
        titles=tuple(" ".join(filter(None, row)) for row in grid.preamble),
    )
    headers = tuple(name for name in names if name is not None)
    return Records(headers, layout, GridFeed(grid, names, judge))


def open_records(path: Path, *, source: SourceBlock) -> Records:
    """Open a file of any supported shape.

    Parameters
    ----------
    path : Path
        Delimited text, workbook, JSON, JSON Lines or Parquet; text and JSON
        also packed with gzip. The reader is chosen by content.
    source : SourceBlock
        What is known of the source; the rest is detected.

    Returns
    -------
    Records
        Headers, chunks of rows, and the account of what was no row.

    Raises
    ------
    SourceError
        If the file is missing, empty, protected, no table, or has two equal
        headers.
    """
    contents = identify(path, source.limits)
    recognise = _recogniser(source)
    if contents.kind == "json":
        table = open_json(path, contents=contents, source=source)
        return _from_json(table)
    if contents.kind == "parquet":
        return _from_parquet(path, source.limits)
    if contents.kind == "workbook":
        # four libraries know the shapes of workbooks; other files wait for none
        from claimlens.ingest.workbooks import open_workbook_grid

        grid = open_workbook_grid(
            path,
            contents=contents,
            source=source,
            recognise=recognise,
            types=lambda headers: column_types(headers, source),
        )
        return _from_grid(grid, path, source, "workbook")
    grid = open_text_grid(path, contents=contents, source=source, recognise=recognise)
    return _from_grid(grid, path, source, "text")


def _recogniser(source: SourceBlock) -> Callable[[str], bool]:
    """Return what tells a header word of a source."""
    mapped = {" ".join(header.split()) for header in source.columns}

    def recognise(text: str) -> bool:
        plain = " ".join(text.split())
        return plain in mapped or is_known_header(plain)

    return recognise


def text_records(path: Path, *, source: SourceBlock) -> Iterator[Record]:
    """Yield the records of a text file below its header, with their lines.

    Parameters
    ----------
    path : Path
        Delimited text, also packed with gzip.
    source : SourceBlock
        What is known of the source; the rest is detected.

    Yields
    ------
    tuple
        First line, number of lines, cells or None, raw first line.

    Raises
    ------
    SourceError
        If the file is no text or no header is found.
    """
    contents = identify(path, source.limits)
    recognise = _recogniser(source)
    grid = open_text_grid(path, contents=contents, source=source, recognise=recognise)
    yield from grid.body()


def _from_json(table: JsonTable) -> Records:
    """Return the records of a JSON file."""

    def feed(tally: Tally) -> Iterator[Chunk]:
        tally.skipped_lines = table.blank_lines
        places = table.places()
        while batch := list(islice(places, CHUNK_ROWS)):
            good = []
            for place in batch:
                if place.flat is None:
                    tally.reject(place.row, place.raw, place.reason)
                else:
                    good.append((place.row, place.flat))
            if good:
                tally.rows_read += len(good)
                yield Chunk(
                    [row for row, _ in good],
                    {
                        name: [flat.get(name) for _, flat in good]
                        for name in table.headers
                    },
                )

    layout = Layout(
        kind="json lines" if table.is_lines else "json",
        records=table.records,
        paths=table.paths,
    )
    return Records(table.headers, layout, feed)


def _from_parquet(path: Path, limits: LimitSettings) -> Records:
    """Return the records of a Parquet file."""
    try:
        _check_parquet(path, limits)
        frame = parquet_rows(path)
    except QueryError as error:
        raise SourceError(
            "The Parquet file is damaged.",
            source=str(path),
            remedy="write it again",
        ) from error
    headers = tuple(" ".join(str(name).split()) for name in frame.columns)
    columns = [
        _plain_numbers(stripped(tuple(frame[name].fillna("").astype("str"))))
        for name in frame.columns
    ]

    def feed(tally: Tally) -> Iterator[Chunk]:
        for start in range(0, len(frame), CHUNK_ROWS):
            stop = min(start + CHUNK_ROWS, len(frame))
            tally.rows_read += stop - start
            yield Chunk(
                list(range(start + 1, stop + 1)),
                {
                    name: column[start:stop]
                    for name, column in zip(headers, columns, strict=True)
                },
            )

    return Records(headers, Layout(kind="parquet"), feed)


def _check_parquet(path: Path, limits: LimitSettings) -> None:
    """Refuse a file that would not fit into the memory once it is read."""
    rows, columns, size = parquet_size(path)
    if rows * columns > limits.cells:
        raise too_large(
            path,
            f"The Parquet file has {rows:,} rows and {columns:,} columns",
            "cells",
            f"{limits.cells:,} cells",
        )
    if size > limits.workbook_mb * MEGA:
        raise too_large(
            path,
            f"The texts of the Parquet file take {size // MEGA:,} MB",
            "workbook_mb",
            f"{limits.workbook_mb:,} MB",
        )


def _plain_numbers(column: list[str | None]) -> list[str | None]:
    """Write a column of floating-point whole numbers without their ``.0``."""
    if all(cell is None or _FLOAT_WHOLE.fullmatch(cell) for cell in column):
        return [cell and cell[:-2] for cell in column]
    return column
