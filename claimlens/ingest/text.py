"""Read delimited text: encoding, delimiter and header found, rows streamed."""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Callable, Iterator
from functools import partial
from itertools import islice
from pathlib import Path

from claimlens.errors import SourceError
from claimlens.ingest.contents import Contents
from claimlens.ingest.dialect import settle_dialect
from claimlens.ingest.encodings import detect_encoding, open_text
from claimlens.ingest.grid import Grid
from claimlens.ingest.lines import Record, RecordCutter
from claimlens.ingest.packed import too_large
from claimlens.ingest.skips import signature
from claimlens.ingest.source import SourceBlock
from claimlens.settings.limits import LimitSettings

__all__ = ["open_text_grid", "text_lines"]

_SAMPLE_LINES = 2_000
_SAMPLE_CHARACTERS = 2_000_000
_WIDE = 6
_CONTROLS = re.compile(r"[\x00-\x08\x0e-\x19\x1c-\x1f]")


def text_lines(
    path: Path,
    *,
    encoding: str,
    compressed: bool,
    limits: LimitSettings,
    longest: int | None = None,
) -> Iterator[str]:
    """Yield the physical lines of a text file, without byte-order mark.

    Parameters
    ----------
    path : Path
        The file.
    encoding : str
        A codec name.
    compressed : bool
        Packed with gzip.
    limits : LimitSettings
        What is allowed.
    longest : int, optional
        Characters of a line, where it is not the usual limit.

    Yields
    ------
    str
        A line with its end.

    Raises
    ------
    SourceError
        If the file cannot be decoded or unpacked to its end, or a line is too long.
    """
    most = longest or limits.line_characters
    try:
        with open_text(
            path, encoding=encoding, compressed=compressed, limits=limits
        ) as stream:
            # read in one go, a line without an end would fill the memory
            lines = iter(partial(stream.readline, most + 2), "")
            for number, line in enumerate(lines, start=1):
                if len(line) > most and len(line.rstrip("\r\n")) > most:
                    raise too_large(
                        path,
                        f"Line {number:,} is longer than {most:,} characters",
                        "line_characters",
                        f"{most:,} characters",
                    )
                if number == 1:
                    yield line.removeprefix("\ufeff")
                elif line != "\x1a":  # end-of-file mark of old systems
                    yield line
    except UnicodeError as error:
        raise SourceError(
            f"The file does not read as {encoding}.",
            source=str(path),
            remedy="leave out `encoding` to have it detected, or export again",
        ) from error
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise SourceError(
            "The compressed file is cut short and cannot be unpacked.",
            source=str(path),
            remedy="copy or export the file again",
        ) from error


def _sample_lines(path: Path, lines: Iterator[str]) -> list[str]:
    """Take the first lines and refuse what only looks like text."""
    sample: list[str] = []
    size = 0
    for line in islice(lines, _SAMPLE_LINES):
        sample.append(line)
        size += len(line)
        if size > _SAMPLE_CHARACTERS:
            break
    strange = sum(len(_CONTROLS.findall(line)) for line in sample)
    if strange > 0.05 * size or (len(sample) <= 1 and strange):
        raise SourceError(
            "The file is no text: it is full of control characters.",
            source=str(path),
            remedy="export the table again as delimited text, workbook or JSON",
        )
    return sample


def _plausibility(
    sample: tuple[tuple[str, ...], ...], width: int
) -> Callable[[list[str]], bool]:
    """Return a test whether cells look like a row of this table.

    A wide line with the right number of cells is a row. In a narrow table a
    line of prose may have it by chance; there the shapes seen in the columns
    that keep to few shapes must come back.
    """
    shapes: list[set[str]] = [
        {signature(row[index].strip()) for row in sample if len(row) == width}
        for index in range(width)
    ]
    structured = [index for index, seen in enumerate(shapes) if 0 < len(seen) <= 12]

    def plausible(cells: list[str]) -> bool:
        if width >= _WIDE or not structured or len(sample) < 3:
            return True
        hits = sum(
            signature(cells[index].strip()) in shapes[index] for index in structured
        )
        return hits >= max(1, 0.5 * len(structured))

    return plausible


def open_text_grid(
    path: Path,
    *,
    contents: Contents,
    source: SourceBlock,
    recognise: Callable[[str], bool],
) -> Grid:
    """Open a delimited text file.

    Parameters
    ----------
    path : Path
        The file.
    contents : Contents
        What `identify` found.
    source : SourceBlock
        What is known of the source; the rest is detected.
    recognise : callable
        Tells whether a text is a known header word.

    Returns
    -------
    Grid
        Ready to be streamed.

    Raises
    ------
    SourceError
        If the file is no text or no header is found.
    """
    if source.encoding:
        encoding, why = source.encoding, "as the source block says"
    else:
        found = detect_encoding(
            path,
            compressed=contents.compressed,
            head=contents.head,
            limits=source.limits,
        )
        encoding, why = found.name, found.why

    def lines() -> Iterator[str]:
        return text_lines(
            path,
            encoding=encoding,
            compressed=contents.compressed,
            limits=source.limits,
        )

    sample = _sample_lines(path, lines())
    dialect = settle_dialect(
        sample,
        delimiter=source.delimiter,
        header_row=source.header_row,
        recognise=recognise,
    )
    if dialect.header is None:
        raise _no_header(path, source.header_row)
    at = dialect.header.index
    line, n_lines, cells, _ = dialect.records[at]
    header = tuple(cells or ())
    below = tuple(
        tuple(row) for _, _, row, _ in dialect.records[at + 1 :] if row is not None
    )
    plausible = _plausibility(below[:400], dialect.width)
    last_header_line = line + n_lines - 1

    def body() -> Iterator[Record]:
        rest = islice(lines(), last_header_line, None)
        cutter = RecordCutter(
            rest,
            delimiter=dialect.delimiter,
            width=dialect.width,
            plausible=plausible,
            start=last_header_line,
            longest=source.limits.line_characters,
            least=max(
                (index for index, cell in enumerate(header, 1) if cell.strip()),
                default=dialect.width,
            ),
        )
        return iter(cutter)

    return Grid(
        header=header,
        header_row=line,
        width=dialect.width,
        lines_above=line - 1,
        preamble=tuple(tuple(row or ()) for _, _, row, _ in dialect.records[:at]),
        sample=below,
        body=body,
        encoding=encoding,
        encoding_why=why,
        delimiter=dialect.delimiter,
    )


def _no_header(path: Path, header_row: int | None) -> SourceError:
    """Return the error for a table without a header."""
    if header_row is not None:
        return SourceError(
            f"The file has no line {header_row} to take the header from.",
            source=str(path),
            line=header_row,
            remedy="correct `header_row` in the source block",
        )
    return SourceError(
        "No header row was found.",
        source=str(path),
        remedy="name the line of the header with `header_row` in the source "
        "block, or add a header to the file",
    )
