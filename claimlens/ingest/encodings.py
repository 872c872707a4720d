"""Find a text file's encoding from its bytes, and open it as text."""

from __future__ import annotations

import codecs
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from claimlens.errors import SourceError
from claimlens.ingest.packed import open_bytes
from claimlens.settings.limits import LimitSettings

__all__ = ["EncodingFound", "detect_encoding", "open_text"]

_BLOCK = 1 << 20
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 by its byte-order mark"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16 by its byte-order mark"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16 by its byte-order mark"),
)
# Bytes that Windows-1252 leaves undefined (Unicode consortium, CP1252.TXT).
_UNDEFINED_1252 = b"\x81\x8d\x8f\x90\x9d"
_MULTIBYTE = re.compile(rb"[\xc2-\xf4][\x80-\xbf]+")


@dataclass(frozen=True, slots=True)
class EncodingFound:
    """An encoding and the reason for it."""

    name: str
    why: str


def _stray_bytes(error: UnicodeError) -> tuple[str, int]:
    """Read the bytes that are no UTF-8 as Windows-1252.

    Exports glued together from two systems hold both; one foreign letter must
    not spoil a file of good rows.
    """
    if not isinstance(error, UnicodeDecodeError):
        raise error
    bad = error.object[error.start : error.end]
    return (
        "".join(
            chr(byte) if byte in _UNDEFINED_1252 else bytes([byte]).decode("cp1252")
            for byte in bad
        ),
        error.end,
    )


codecs.register_error("claimlens_stray_bytes", _stray_bytes)


def _utf16_without_mark(head: bytes) -> EncodingFound | None:
    """Tell UTF-16 by where its zero bytes stand; European text has one a letter."""
    half = len(head) // 2
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if odd > 0.5 * half and even < 0.1 * half:
        return EncodingFound("utf-16-le", "every second byte is zero")
    if even > 0.5 * half and odd < 0.1 * half:
        return EncodingFound("utf-16-be", "every first byte is zero")
    return None


def detect_encoding(
    path: Path, *, compressed: bool, head: bytes, limits: LimitSettings
) -> EncodingFound:
    """Find the encoding of a text file.

    The whole file is read where its start is plain ASCII, since the first
    letter outside ASCII may stand in the last row.

    Parameters
    ----------
    path : Path
        The file.
    compressed : bool
        Packed with gzip.
    head : bytes
        Its first (unpacked) bytes.
    limits : LimitSettings
        How much a packed file may unpack to.

    Returns
    -------
    EncodingFound
        A Python codec name and the reason.
    """
    for mark, name, why in _MARKS:
        if head.startswith(mark):
            return EncodingFound(name, why)
    wide = _utf16_without_mark(head[:4096])
    if wide is not None:
        return wide
    decoder = codecs.getincrementaldecoder("utf-8")()
    multibyte, high, controls = 0, 0, 0
    valid = True
    with open_bytes(path, compressed=compressed, limits=limits) as stream:
        while block := stream.read(_BLOCK):
            if block.isascii():
                continue
            if valid:
                try:
                    decoder.decode(block)
                except UnicodeDecodeError:
                    valid = False
            multibyte += len(_MULTIBYTE.findall(block))
            outside = bytes(byte for byte in block if byte > 127)
            high += len(outside)
            controls += sum(outside.count(byte) for byte in _UNDEFINED_1252)
            if not valid and high > 200_000:
                break
    if valid and decoder.getstate()[0]:
        valid = False  # the file ends in the middle of a letter
    return _judge_bytes(valid, multibyte, high, controls)


def _judge_bytes(
    valid: bool, multibyte: int, high: int, undefined: int
) -> EncodingFound:
    """Choose between UTF-8 and the one-byte encodings."""
    if valid:
        return EncodingFound("utf-8", "every byte reads as UTF-8")
    if multibyte * 2 > 0.8 * high:
        return EncodingFound("utf-8", "UTF-8 but for a few stray bytes")
    if undefined:
        return EncodingFound(
            "latin-1", "not UTF-8, and holds bytes that Windows-1252 leaves undefined"
        )
    return EncodingFound("cp1252", "not UTF-8; letters read as Windows-1252")


def open_text(
    path: Path, *, encoding: str, compressed: bool, limits: LimitSettings
) -> TextIO:
    """Open a text file, line ends kept as they are.

    Parameters
    ----------
    path : Path
        The file.
    encoding : str
        A codec name, as from `detect_encoding` or from the source block.
    compressed : bool
        Packed with gzip.
    limits : LimitSettings
        How much a packed file may unpack to.

    Returns
    -------
    TextIO
        A stream; bytes that do not belong are read as Windows-1252 in UTF-8
        files and as the replacement character elsewhere.

    Raises
    ------
    SourceError
        If the encoding is unknown.
    """
    try:
        name = codecs.lookup(encoding).name
    except LookupError as error:
        raise SourceError(
            f"The encoding {encoding!r} is unknown.",
            source=str(path),
            remedy="use utf-8, utf-16, cp1252 or latin-1",
        ) from error
    if name == "utf-8":
        name = "utf-8-sig"
    errors = "claimlens_stray_bytes" if name == "utf-8-sig" else "replace"
    return io.TextIOWrapper(
        open_bytes(path, compressed=compressed, limits=limits),
        encoding=name,
        errors=errors,
        newline="",
    )
