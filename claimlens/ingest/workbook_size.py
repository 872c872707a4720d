"""Look at the size of a workbook before a reader gets hold of it.

The reader lays a sheet out as one block of rows times columns; a far cell would
make it ask for more memory than there is, and the process would end without a
word. So the parts are unpacked once, piece by piece, and counted.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import xlrd
from xlrd.compdoc import CompDocError

from claimlens.errors import SourceError
from claimlens.ingest.packed import Counter, too_large
from claimlens.ingest.sheet_span import OdsSpan, Span, TextSizes, XlsbSpan, XmlSpan
from claimlens.settings.limits import MEGA, LimitSettings

__all__ = ["XLS_DAMAGES", "check_workbook"]

_BLOCK = 1 << 20
_LOCAL_HEADER = struct.Struct("<4s22xHH")
_LOCAL_MARK = b"PK\x03\x04"
_ENTITY = re.compile(rb"<!\s{0,8}ENTITY", re.IGNORECASE)
_OVERLAP = 16
_SHEET = re.compile(r"(?:^|/)xl/(?:worksheets|macrosheets|dialogsheets)/", re.I)
_WIDE_XML = (b"\xff\xfe", b"\xfe\xff", b"<\x00", b"\x00<")
#: What the reader of .xls raises on files cut or overwritten somewhere: its own
#: errors, and what reading past the end of a record gives.
XLS_DAMAGES = (
    *(xlrd.XLRDError, CompDocError, struct.error, AssertionError, IndexError),
    *(KeyError, NotImplementedError, TypeError, ValueError, AttributeError),
    *(OverflowError, MemoryError, RecursionError, ZeroDivisionError),
)


def check_workbook(path: Path, raw: bytes, limits: LimitSettings) -> None:
    """Refuse a workbook that would fill the memory, or that tries to trick a reader.

    Parameters
    ----------
    path : Path
        The file, for messages.
    raw : bytes
        Its bytes.
    limits : LimitSettings
        What is allowed.

    Raises
    ------
    SourceError
        If it unpacks to too much, spans too many cells, defines XML entities, or
        has parts whose names lead out of it or stand twice.
    zipfile.BadZipFile, zlib.error, ValueError
        If it is damaged.
    """
    if raw.startswith(b"PK"):
        _check_archive(path, raw, limits)
    else:
        _check_old(path, raw, limits)


def _check_archive(path: Path, raw: bytes, limits: LimitSettings) -> None:
    """Unpack every part of a zipped workbook once and count."""
    most = limits.workbook_mb * MEGA
    counter = Counter(path, len(raw), most, "workbook_mb", limits)
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        parts = [part for part in archive.infolist() if not part.is_dir()]
        _check_names(path, parts)
        texts = TextSizes()
        spans: list[Span] = []
        for part in parts:
            span = _span_of(part.filename)
            is_texts = part.filename.lower().endswith("xl/sharedstrings.xml")
            tail = b""
            for block in _unpacked(raw, part):
                counter.add(len(block))
                if not tail:
                    _check_letters(part, block[:2])
                _check_entities(path, part, tail + block)
                tail = block[-_OVERLAP:]
                if span is not None:
                    span.add(block)
                    _check_cells(path, part.filename, span, limits)
                if is_texts:
                    texts.add(block)
            if span is not None:
                spans.append(span)
        longest = texts.longest()
        if longest * sum(span.n_shared for span in spans) > most:
            raise too_large(
                path,
                f"The cells of the workbook repeat a text of {longest:,} bytes "
                "so often that they would not fit",
                "workbook_mb",
                f"{limits.workbook_mb:,} MB of text",
            )


def _check_names(path: Path, parts: list[zipfile.ZipInfo]) -> None:
    """Refuse part names that lead somewhere else, or stand twice."""
    seen: set[str] = set()
    for part in parts:
        name = part.filename.replace("\\", "/")
        if name.startswith("/") or ":" in name or ".." in name.split("/"):
            raise SourceError(
                f"The workbook holds a part called {part.filename!r}, a name that "
                "leads out of it.",
                source=str(path),
                remedy="do not use the file; ask whoever sent it for a new export",
            )
        if name.casefold() in seen:
            raise SourceError(
                f"The workbook holds the part {part.filename!r} twice.",
                source=str(path),
                remedy="open it in a spreadsheet and save it as .xlsx again",
            )
        seen.add(name.casefold())


def _unpacked(raw: bytes, part: zipfile.ZipInfo) -> Iterator[bytes]:
    """Yield what a part really holds, whatever the archive says of its size."""
    start = part.header_offset
    if not 0 <= start <= len(raw) - _LOCAL_HEADER.size:
        raise zipfile.BadZipFile("a part is not where the list says")
    mark, name, extra = _LOCAL_HEADER.unpack_from(raw, start)
    if mark != _LOCAL_MARK:
        raise zipfile.BadZipFile("a part is not where the list says")
    begin = start + _LOCAL_HEADER.size + name + extra
    packed = memoryview(raw)[begin : begin + part.compress_size]
    if part.compress_type == zipfile.ZIP_STORED:
        _check_whole(part, len(packed), zlib.crc32(packed))
        yield bytes(packed)
        return
    if part.compress_type != zipfile.ZIP_DEFLATED:
        raise zipfile.BadZipFile("packed in a way that workbooks are not")
    engine = zlib.decompressobj(-15)
    waiting: bytes | memoryview = packed
    total = digits = 0
    while not engine.eof:
        block = engine.decompress(waiting, _BLOCK)
        waiting = engine.unconsumed_tail
        if not block and not waiting:
            break
        total += len(block)
        digits = zlib.crc32(block, digits)
        yield block
    _check_whole(part, total, digits)


def _check_whole(part: zipfile.ZipInfo, size: int, digits: int) -> None:
    """Refuse a part that is not what the list says."""
    if size != part.file_size or digits != part.CRC:
        raise zipfile.BadZipFile("a part is not what the list says")


def _check_letters(part: zipfile.ZipInfo, head: bytes) -> None:
    """Refuse XML in an encoding in which nothing below would be found."""
    if part.filename.lower().endswith((".xml", ".rels")) and head.startswith(_WIDE_XML):
        raise zipfile.BadZipFile("XML that is not UTF-8")


def _check_entities(path: Path, part: zipfile.ZipInfo, block: bytes) -> None:
    """Refuse definitions of entities; no writer of workbooks makes any."""
    if part.filename.lower().endswith((".xml", ".rels")) and _ENTITY.search(block):
        raise SourceError(
            f"The workbook defines XML entities in {part.filename!r}, which can "
            "expand without end.",
            source=str(path),
            remedy="do not use the file; ask whoever sent it for a new export",
        )


def _span_of(name: str) -> Span | None:
    """Return what measures a part, if it is a sheet."""
    lower = name.lower()
    if lower == "content.xml":
        return OdsSpan()
    if not _SHEET.search(f"/{lower}"):
        return None
    if lower.endswith(".bin"):
        return XlsbSpan()
    return XmlSpan() if lower.endswith(".xml") else None


def _check_cells(path: Path, sheet: str, span: Span, limits: LimitSettings) -> None:
    """Refuse a sheet whose filled part spans too much."""
    rows, columns = span.size
    if span.merged > limits.cells:
        raise too_large(
            path,
            f"A sheet ({sheet}) merges {span.merged:,} cells",
            "cells",
            f"{limits.cells:,} cells",
        )
    if rows * columns > limits.cells:
        raise too_large(
            path,
            f"A sheet ({sheet}) spans {rows:,} rows and {columns:,} columns",
            "cells",
            f"{limits.cells:,} cells",
        )


def _check_old(path: Path, raw: bytes, limits: LimitSettings) -> None:
    """Measure the sheets of an .xls file."""
    try:
        with xlrd.open_workbook(
            file_contents=raw, on_demand=True, ragged_rows=True, logfile=io.StringIO()
        ) as book:
            for name in book.sheet_names():
                page = book.sheet_by_name(name)
                rows, columns = page.nrows, page.ncols
                book.unload_sheet(name)
                if rows * columns > limits.cells:
                    raise too_large(
                        path,
                        f"The sheet {name!r} spans {rows:,} rows and {columns:,} "
                        "columns",
                        "cells",
                        f"{limits.cells:,} cells",
                    )
    except SourceError:
        raise
    except XLS_DAMAGES as error:
        raise ValueError(f"no .xls file that can be read: {error}") from error
