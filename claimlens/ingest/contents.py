"""Tell by a file's first bytes what it is, whatever its name says."""

from __future__ import annotations

import gzip
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from claimlens.errors import EmptyFileError, SourceError
from claimlens.ingest.packed import open_bytes
from claimlens.ingest.paths import check_is_file
from claimlens.settings.limits import LimitSettings

__all__ = ["ContentKind", "Contents", "identify"]

ContentKind = Literal["text", "json", "workbook", "parquet"]

_HEAD = 65_536
_GZIP = b"\x1f\x8b"
_ZIP = b"PK\x03\x04"
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# First bytes by the formats' own published specifications.
_FOREIGN = (
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"%PDF-", "a PDF document"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"SQLite format 3\x00", "a database file"),
    (b"{\\rtf", "a word-processor document"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90\x00", "a program"),
)
_PLAIN_CONTROLS = frozenset(b"\t\n\r\f\v\x1a\x1b")
_WORKBOOK_SUFFIXES = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")
_EXPORT_AGAIN = "export the table again as delimited text, workbook or JSON"


@dataclass(frozen=True, slots=True)
class Contents:
    """What a file holds.

    Parameters
    ----------
    kind : {'text', 'json', 'workbook', 'parquet'}
        The reader that it needs.
    compressed : bool
        Packed with gzip.
    head : bytes
        The first bytes, unpacked.
    """

    kind: ContentKind
    compressed: bool
    head: bytes


def _read_head(path: Path, limits: LimitSettings) -> tuple[bytes, bool]:
    """Return the first unpacked bytes and whether the file was packed."""
    check_is_file(path)
    try:
        with path.open("rb") as stream:
            compressed = stream.read(2) == _GZIP
        with open_bytes(path, compressed=compressed, limits=limits) as stream:
            return stream.read(_HEAD), compressed
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise SourceError(
            "The compressed file is damaged and cannot be unpacked.",
            source=str(path),
            remedy="copy or export the file again",
        ) from error
    except OSError as error:
        raise SourceError(
            f"The file cannot be opened: {error.strerror or error}.",
            source=str(path),
            remedy="check that you may read it and that no program holds it",
        ) from error


def _is_zero_padded_text(head: bytes) -> bool:
    """Tell UTF-16 text, where every other byte is mostly zero."""
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return True
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = max(len(head) // 2, 1)
    return max(even, odd) > 0.5 * half and min(even, odd) < 0.1 * half


def _check_is_text(path: Path, head: bytes) -> None:
    """Raise ``SourceError`` if these bytes are no text."""
    what = next((name for magic, name in _FOREIGN if head.startswith(magic)), None)
    if what is None and not _is_zero_padded_text(head):
        controls = sum(
            head.count(byte) for byte in range(32) if byte not in _PLAIN_CONTROLS
        )
        if controls > 0.05 * len(head):
            what = "no text: it is full of control characters"
    if what is not None:
        raise SourceError(
            f"The file is {what}, not a table.",
            source=str(path),
            remedy=_EXPORT_AGAIN,
        )
    start = head[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<!doctype html", b"<html", b"<?xml", b"<table")):
        raise SourceError(
            "The file is a web page or XML document, not a table.",
            source=str(path),
            remedy="open it in a spreadsheet and save it as .xlsx or .csv",
        )


def _is_json(head: bytes) -> bool:
    """Tell whether text begins like a JSON value that holds records."""
    for codec in ("utf-16", "utf-8-sig"):
        if codec == "utf-16" and head[:2] not in (b"\xff\xfe", b"\xfe\xff"):
            continue
        text = head[: len(head) // 2 * 2].decode(codec, errors="replace").lstrip()
        opening, rest = text[:1], text[1:].lstrip()[:1]
        return (opening == "[" and rest in ("{", "]")) or (
            opening == "{" and rest in ('"', "}")
        )
    return False


def identify(path: Path, limits: LimitSettings) -> Contents:
    """Tell what a file holds, by its content.

    Parameters
    ----------
    path : Path
        The file.
    limits : LimitSettings
        How much a packed file may unpack to.

    Returns
    -------
    Contents
        The reader it needs.

    Raises
    ------
    SourceError
        If the file is missing, empty, locked by a password, or no table
        (a picture, a document, an archive).
    """
    head, compressed = _read_head(path, limits)
    if not head.strip(b"\x00\xef\xbb\xbf\xff\xfe \t\r\n"):
        raise EmptyFileError(
            "The file is empty.",
            source=str(path),
            remedy="export it again, with its header and rows",
        )
    if head.startswith(b"PAR1"):
        return Contents("parquet", compressed, head)
    if head.startswith((_ZIP, _COMPOUND)):
        if path.suffix.lower() not in _WORKBOOK_SUFFIXES and head.startswith(_ZIP):
            known = (b"[Content_Types].xml", b"xl/", b"opendocument.spreadsheet")
            if not any(mark in head for mark in known):
                raise SourceError(
                    "The file is a zip archive, not a table.",
                    source=str(path),
                    remedy="unpack it and load the files inside",
                )
        return Contents("workbook", compressed, head)
    _check_is_text(path, head)
    return Contents("json" if _is_json(head) else "text", compressed, head)
