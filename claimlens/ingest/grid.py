"""A table as lines of cells, before its rows are told from the lines around."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from claimlens.errors import SourceError
from claimlens.ingest.lines import Record

__all__ = ["Grid", "header_names"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A text table or a sheet with its header found.

    Parameters
    ----------
    header : tuple of str
        Header cells as they stand.
    header_row : int
        Line or row of the header, counted from 1.
    width : int
        Cells of a full record; at least the header's.
    lines_above : int
        Lines above the header.
    preamble, sample : tuple
        Rows above and rows below the header, to learn from.
    body : callable
        Gives the records below the header, afresh at each call.
    encoding, encoding_why, delimiter, sheet : str or None
        How the file was read.
    sheets : tuple of str
        Every sheet of the workbook.
    date_epoch : int or None
        1900 or 1904 where numbers may stand for dates.
    """

    header: tuple[str, ...]
    header_row: int
    width: int
    lines_above: int
    preamble: tuple[tuple[str, ...], ...]
    sample: tuple[tuple[str, ...], ...]
    body: Callable[[], Iterator[Record]]
    encoding: str | None = None
    encoding_why: str = ""
    delimiter: str | None = None
    sheet: str | None = None
    sheets: tuple[str, ...] = ()
    date_epoch: int | None = None


def header_names(
    header: Sequence[str],
    *,
    width: int,
    sample: Sequence[Sequence[str]],
    source: str,
    header_row: int,
) -> tuple[str | None, ...]:
    """Return a name for each column; None for an empty column without one.

    Parameters
    ----------
    header : sequence of str
        Header cells as they stand.
    width : int
        Number of columns.
    sample : sequence of sequence of str
        Rows that show which nameless columns hold something.
    source : str
        File, for the message.
    header_row : int
        Line or row of the header, for the message.

    Returns
    -------
    tuple of str or None
        Names on one line; ``column N`` where a filled column has none.

    Raises
    ------
    SourceError
        If two columns have the same name.
    """
    names: list[str | None] = []
    for index in range(width):
        text = header[index] if index < len(header) else ""
        name = " ".join(text.replace("\ufeff", "").split())
        if name:
            names.append(name)
        elif any(len(row) > index and row[index].strip() for row in sample):
            names.append(f"column {index + 1}")
        else:
            names.append(None)
    counts = Counter(name for name in names if name is not None)
    twice = next((name for name, count in counts.items() if count > 1), None)
    if twice is not None:
        places = [str(at + 1) for at, name in enumerate(names) if name == twice]
        raise SourceError(
            f"The header {twice!r} stands in columns {' and '.join(places)}.",
            source=source,
            line=header_row,
            column=twice,
            remedy="give each column its own header and load the file again",
        )
    return tuple(names)
