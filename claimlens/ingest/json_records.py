"""Read JSON arrays, objects that hold a list, and JSON Lines as flat records."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from claimlens.errors import SourceError
from claimlens.ingest.contents import Contents
from claimlens.ingest.encodings import detect_encoding
from claimlens.ingest.json_values import (
    Flat,
    TooDeepError,
    compact,
    flatten,
    has_objects,
    loads,
    record_paths,
)
from claimlens.ingest.packed import too_large
from claimlens.ingest.source import SourceBlock
from claimlens.ingest.text import text_lines
from claimlens.settings.limits import MEGA

__all__ = ["JsonTable", "Place", "open_json", "record_paths"]

_PEEKED_LINES = 50
_PEEKED_CHARACTERS = 16_000_000


@dataclass(frozen=True, slots=True)
class Place:
    """A record or a fault at its place in the file.

    Parameters
    ----------
    row : int
        Line of JSON Lines, element of an array; counted from 1.
    flat : dict or None
        The record, nested objects flattened with dots; None for a fault.
    raw, reason : str
        What stood there and why it is no record.
    """

    row: int
    flat: Flat | None
    raw: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class JsonTable:
    """The records of a JSON file.

    Parameters
    ----------
    headers : tuple of str
        Every name that some record has, in order of appearance.
    places : callable
        Gives records and faults, afresh at each call.
    records : str or None
        Path to the list that was read.
    is_lines : bool
        JSON Lines.
    blank_lines : int
        Lines of JSON Lines that hold nothing.
    paths : tuple of str
        Paths of nested lists of objects below the records.
    """

    headers: tuple[str, ...]
    places: Callable[[], Iterator[Place]]
    records: str | None
    is_lines: bool
    blank_lines: int
    paths: tuple[str, ...]


def _descend(
    value: Any,
    path: tuple[str, ...],
    parent: dict[str, Any] | None,
    row: int | None,
) -> Iterator[tuple[int, Any, dict[str, Any] | None]]:
    """Yield (element, record, enclosing record) at a path.

    A list met on the way is gone through; the first one numbers the elements.
    """
    if isinstance(value, list):
        for index, element in enumerate(value, start=1):
            place = row or index
            if path:
                yield from _descend(element, path, parent, place)
            else:
                yield place, element, parent
        return
    if not path:
        yield row or 1, value, parent
        return
    if isinstance(value, dict) and value.get(path[0]) is not None:
        below = value[path[0]]
        holder = value if isinstance(below, list) else parent
        yield from _descend(below, path[1:], holder, row)


def _place(row: int, record: Any, parent: dict[str, Any] | None) -> Place:
    """Return a record flattened, or the fault that it is."""
    try:
        return _flat_place(row, record, parent)
    except RecursionError:
        return Place(row, None, "", "is nested too deep")


def _flat_place(row: int, record: Any, parent: dict[str, Any] | None) -> Place:
    """Return a record flattened, its parent's fields marked with ``^``."""
    if isinstance(record, list) or record is None:
        return Place(row, None, compact(record), "is no JSON object")
    if not isinstance(record, dict):
        if parent is None:
            return Place(row, None, str(record), "is no JSON object")
        record = {"value": record}
    flat = flatten(record)
    if parent is not None:
        above = {
            name: value
            for name, value in parent.items()
            if not isinstance(value, list) or not has_objects(value)
        }
        flat.update({f"^{name}": text for name, text in flatten(above).items()})
    return Place(row, flat)


def _is_lines(lines: list[str]) -> bool:
    """Tell JSON Lines from one document spread over lines."""
    filled = [line.strip() for line in lines if line.strip()]
    if not filled or not filled[0].startswith("{"):
        return False
    opened = sum(line.startswith("{") and len(line) > 1 for line in filled)
    if len(filled) == 1:
        try:
            document = loads(filled[0])
        except TooDeepError:
            return False
        except ValueError:
            return True
        return not record_paths(document) or len(document) > 6
    return opened > 0.5 * len(filled)


def open_json(path: Path, *, contents: Contents, source: SourceBlock) -> JsonTable:
    """Open a JSON file.

    Parameters
    ----------
    path : Path
        JSON Lines, an array of objects, or an object that holds one.
    contents : Contents
        What `identify` found.
    source : SourceBlock
        Its ``records`` names the path to the list; lists on the way are gone
        through, and the fields of the enclosing record are then available as
        ``^name``.

    Returns
    -------
    JsonTable
        Flat records.

    Raises
    ------
    SourceError
        If the file is no JSON or no list of objects is found.
    """
    encoding = (
        source.encoding
        or detect_encoding(
            path,
            compressed=contents.compressed,
            head=contents.head,
            limits=source.limits,
        ).name
    )

    limits = source.limits
    most = limits.document_mb * MEGA

    def lines(longest: int | None = None) -> Iterator[str]:
        return text_lines(
            path,
            encoding=encoding,
            compressed=contents.compressed,
            limits=limits,
            longest=longest,
        )

    if _is_lines(list(_peeked(lines(most)))):
        return _lines_table(lines, source, path)
    text = _whole(lines(most), most, path)
    try:
        document = loads(text)
    except TooDeepError as error:
        raise _too_deep(path) from error
    except ValueError as error:
        raise SourceError(
            f"The file is no valid JSON: {error}.",
            source=str(path),
            line=error.lineno if isinstance(error, json.JSONDecodeError) else None,
            remedy="export it again; if each line is a record, each must be whole",
        ) from error
    return _document_table(document, source, path)


def _too_deep(path: Path) -> SourceError:
    return SourceError(
        "The file nests JSON too deep to be a table.",
        source=str(path),
        remedy="export the records as a list of flat objects",
    )


def _peeked(lines: Iterator[str]) -> Iterator[str]:
    """Yield the first lines, few where they are long."""
    size = 0
    for line in islice(lines, _PEEKED_LINES):
        yield line
        size += len(line)
        if size > _PEEKED_CHARACTERS:
            return


def _whole(lines: Iterator[str], most: int, path: Path) -> str:
    """Return the text of one document, unless it is too long to be held."""
    taken: list[str] = []
    size = 0
    for line in lines:
        taken.append(line)
        size += len(line)
        if size > most:
            raise too_large(
                path,
                f"The file is one JSON document of more than {most // MEGA:,} MB, "
                "which must be held as a whole",
                "document_mb",
                f"{most // MEGA:,} MB",
            )
    return "".join(taken)


def _document_table(document: Any, source: SourceBlock, path: Path) -> JsonTable:
    """Return the records of one document."""
    records = source.records
    if records is None and isinstance(document, dict):
        inside = record_paths(document)
        if inside:
            records = max(inside, key=lambda name: inside[name])
    steps = _steps(records)

    def places() -> Iterator[Place]:
        nests = _is_nested(document, steps)
        for row, record, parent in _descend(document, steps, None, None):
            yield _place(row, record, parent if nests else None)

    first = next((r for _, r, _ in _descend(document, steps, None, None)), None)
    return _finished(
        places, source, records, path, is_lines=False, blank=0, example=first
    )


def _is_nested(document: Any, steps: tuple[str, ...]) -> bool:
    """Tell whether the path leads through records, not only to their list."""
    value = document
    for index, step in enumerate(steps):
        if isinstance(value, list):
            return True
        if not isinstance(value, dict):
            return False
        value = value.get(step)
        if isinstance(value, list) and index + 1 < len(steps):
            return True
    return False


def _steps(records: str | None) -> tuple[str, ...]:
    return tuple(step for step in (records or "").split(".") if step)


def _lines_table(
    lines: Callable[[], Iterator[str]], source: SourceBlock, path: Path
) -> JsonTable:
    """Return the records of JSON Lines, one document a line."""
    records = source.records
    steps = _steps(records)

    def places() -> Iterator[Place]:
        for number, line in enumerate(lines(), start=1):
            text = line.strip()
            if not text:
                continue
            try:
                document = loads(text.removesuffix(","))
            except ValueError as error:
                yield Place(number, None, text, f"broken JSON: {error}")
                continue
            if not isinstance(document, dict):
                yield Place(number, None, text, "is no JSON object")
                continue
            for _, record, parent in _descend(document, steps, None, number):
                yield _place(number, record, parent if steps else None)

    blank = sum(1 for line in lines() if not line.strip())
    example = None
    for line in lines():
        try:
            example = loads(line.strip().removesuffix(","))
        except ValueError:
            continue
        if record_paths(example):
            break
    return _finished(
        places, source, records, path, is_lines=True, blank=blank, example=example
    )


def _finished(
    places: Callable[[], Iterator[Place]],
    source: SourceBlock,
    records: str | None,
    path: Path,
    *,
    is_lines: bool,
    blank: int,
    example: Any,
) -> JsonTable:
    """Go through the records once for their names."""
    seen: dict[str, bool] = {}
    for place in places():
        for name, text in (place.flat or {}).items():
            seen[name] = seen.get(name, False) or text is not None
    # a nested object that is null in some record is no column of its own
    # and of the enclosing record only what the source block asks for is kept
    headers = [
        name
        for name, filled in seen.items()
        if (filled or not any(other.startswith(f"{name}.") for other in seen))
        and (not name.startswith("^") or not source.columns or name in source.columns)
    ]
    if not headers:
        raise SourceError(
            "The file holds no list of JSON objects"
            + (f" at {records!r}." if records else "."),
            source=str(path),
            remedy="name the path to the list with `records` in the source block, "
            "with dots for nesting",
        )
    return JsonTable(
        headers=tuple(headers),
        places=places,
        records=records,
        is_lines=is_lines,
        blank_lines=blank,
        paths=tuple(record_paths(example)),
    )
