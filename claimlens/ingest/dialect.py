"""Find the delimiter and the header of a text table from its first lines."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from claimlens.ingest.lines import Record, RecordCutter
from claimlens.ingest.skips import looks_numeric

__all__ = [
    "DELIMITERS",
    "Dialect",
    "HeaderFound",
    "delimiter_name",
    "find_header",
    "settle_dialect",
]

DELIMITERS = (";", ",", "\t", "|")
_NAMES = {";": "semicolon", ",": "comma", "\t": "tab", "|": "pipe"}
_SEARCHED = 200
_DATE_LIKE = re.compile(r"\s*\d{1,4}[./-]\d{1,2}[./-]\d{1,4}(?:[ T].*)?\s*")
_LONGEST_LABEL = 80


@dataclass(frozen=True, slots=True)
class HeaderFound:
    """Where the header stands among rows.

    Parameters
    ----------
    index : int
        Position in the rows searched.
    score : float
        Higher is surer; only comparable within one file.
    known : int
        Header cells that a canonical field is known by.
    """

    index: int
    score: float
    known: int


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a text table is cut.

    Parameters
    ----------
    delimiter : str
        One character.
    header : HeaderFound or None
        None where no row looks like a header.
    records : tuple
        The sample, cut.
    width : int
        Cells of a full record.
    """

    delimiter: str
    header: HeaderFound | None
    records: tuple[Record, ...]
    width: int


def delimiter_name(delimiter: str) -> str:
    """Return the delimiter's name in words."""
    return _NAMES.get(delimiter, repr(delimiter))


def _filled(cells: Sequence[str]) -> list[str]:
    return [text for cell in cells if (text := cell.strip())]


def _modal_width(rows: Sequence[Sequence[str]]) -> int:
    """Return the commonest number of cells, among rows of two cells or more."""
    counts = Counter(len(row) for row in rows if len(row) > 1 and _filled(row))
    if not counts:
        return 1
    top = max(counts.values())
    return max(width for width, count in counts.items() if count == top)


def _is_label(text: str) -> bool:
    return (
        len(text) <= _LONGEST_LABEL
        and not looks_numeric(text)
        and _DATE_LIKE.fullmatch(text) is None
    )


def find_header(
    rows: Sequence[Sequence[str]], recognise: Callable[[str], bool]
) -> HeaderFound | None:
    """Find the header among the first rows of a table.

    Parameters
    ----------
    rows : sequence of sequence of str
        The first rows, title lines included.
    recognise : callable
        Tells whether a text is a known header word.

    Returns
    -------
    HeaderFound or None
        The row that names most fields and is filled and labelled best; the
        earliest of equals, since pages repeat their header.
    """
    width = _modal_width(rows)
    best: HeaderFound | None = None
    for index, row in enumerate(rows[:_SEARCHED]):
        filled = _filled(row)
        if not filled or (len(filled) < 2 <= width):
            continue
        labels = sum(map(_is_label, filled)) / len(filled)
        if labels < 0.75:
            continue
        known = sum(map(recognise, filled))
        if width == 1 and not known:
            continue
        distinct = len(set(filled)) / len(filled)
        fill = min(len(filled) / width, 1.0)
        score = 2.0 * min(known, 10) + 3.0 * labels * fill * distinct
        if best is None or score > best.score + 1e-9:
            best = HeaderFound(index, score, known)
    return best


def _cut_sample(sample: Sequence[str], delimiter: str) -> tuple[Record, ...]:
    """Cut the sample, first without a width, then with the commonest one."""
    loose = tuple(RecordCutter(sample, delimiter=delimiter, width=None))
    width = _modal_width([cells for _, _, cells, _ in loose if cells])
    if width < 2:
        return loose
    return tuple(RecordCutter(sample, delimiter=delimiter, width=width))


def _data_width(records: Sequence[Record], start: int, header_width: int) -> int:
    """Return the cells of a full record, the header's own unless data are wider."""
    after = [cells for _, _, cells, _ in records[start:] if cells]
    counts = Counter(len(row) for row in after if _filled(row))
    if not counts:
        return header_width
    width, count = counts.most_common(1)[0]
    wider = width > header_width and count > 0.5 * len(after)
    overflow = any(
        any(cell.strip() for cell in row[header_width:])
        for row in after
        if len(row) == width
    )
    return width if wider and overflow else header_width


def settle_dialect(
    sample: Sequence[str],
    *,
    delimiter: str | None,
    header_row: int | None,
    recognise: Callable[[str], bool],
) -> Dialect:
    """Choose the delimiter and the header row.

    Parameters
    ----------
    sample : sequence of str
        The first physical lines, line ends kept.
    delimiter : str or None
        As the source block says it; detected when None.
    header_row : int or None
        Line of the header as the source block says it; detected when None.
    recognise : callable
        Tells whether a text is a known header word.

    Returns
    -------
    Dialect
        The reading whose header names most fields and whose records agree
        most in their number of cells.
    """
    declared = re.match(r"\ufeff?sep=(.)\r?\n?$", sample[0]) if sample else None
    if delimiter is None and declared:
        delimiter = declared.group(1)
    best: tuple[float, Dialect] | None = None
    for mark in (delimiter,) if delimiter else DELIMITERS:
        records = _cut_sample(sample, mark)
        rows = [cells or [] for _, _, cells, _ in records]
        header = find_header(rows, recognise)
        if header_row is not None:
            at = next(
                (
                    index
                    for index, (line, lines, _, _) in enumerate(records)
                    if line <= header_row < line + lines
                ),
                None,
            )
            header = None if at is None else HeaderFound(at, 0.0, 0)
        start = 0 if header is None else header.index
        width = _data_width(records, start + 1, len(rows[start]) if rows else 1)
        body = [row for row in rows[start:] if _filled(row)]
        agree = sum(len(row) == width for row in body) / max(len(body), 1)
        score = (
            (header.score if header else 0.0)
            + (4.0 * agree + math.log2(width) if width > 1 else 0.0)
            + 2.0
            * (sum(map(recognise, _filled(rows[start]))) if rows else 0)
            * (header_row is not None)
        )
        if best is None or score > best[0]:
            best = score, Dialect(mark, header, records, width)
    assert best is not None  # DELIMITERS is not empty
    return best[1]
