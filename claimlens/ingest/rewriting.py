"""Write an export again without the rows of something erased."""

from __future__ import annotations

import codecs
import gzip
import hashlib
import io
import json
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from claimlens.db.parquet import parquet_rows, parquet_without
from claimlens.errors import ClaimlensError
from claimlens.ingest.contents import Contents, identify
from claimlens.ingest.encodings import detect_encoding
from claimlens.ingest.erased import MASK
from claimlens.ingest.packed import open_bytes
from claimlens.ingest.records import text_records
from claimlens.ingest.rewritten import BY_HAND, Rewritten
from claimlens.ingest.source import SourceBlock
from claimlens.ingest.text import text_lines
from claimlens.ingest.traces import Traces
from claimlens.settings.limits import MEGA

__all__ = ["is_archive", "rewritten"]


def rewritten(
    path: Path, source: SourceBlock, traces: Traces, *, masks_only: bool = False
) -> Rewritten:
    """Return a file without the rows of something erased.

    Rows of a text file become empty lines and rows of a sheet empty rows, so that
    every other row keeps its place.

    Parameters
    ----------
    path : Path
        The file.
    source : SourceBlock
        How it is read.
    traces : Traces
        What to look for.
    masks_only : bool, default False
        Mask identifiers and take no row out: the file tells of something else.
    """
    try:
        if is_archive(path):
            return _archive(path, source, traces, masks_only=masks_only)
        contents = identify(path, source.limits)
        if contents.kind == "text":
            return _text(path, source, contents, traces, masks_only=masks_only)
        if contents.kind == "json":
            return _json(path, source, contents, traces)
        if contents.kind == "parquet":
            return _parquet(path, traces)
        # large libraries that few calls need
        from claimlens.ingest.rewriting_books import without_rows

        return without_rows(path, traces)
    except (ClaimlensError, OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        return _unread(path, traces, error)


def _unread(path: Path, traces: Traces, error: Exception) -> Rewritten:
    """Judge a file that cannot be read as a table by its bytes."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except OSError as fault:
        told = f"it cannot be read ({fault.strerror or fault}): free it and erase again"
        return Rewritten(why=told)
    if not traces.shown_by(text):
        return Rewritten()
    kind = type(error).__name__
    return Rewritten(rows=1, why=f"it cannot be read as a table ({kind}): {BY_HAND}")


def _lines_of(
    path: Path, source: SourceBlock, contents: Contents
) -> tuple[list[str], str, bytes] | None:
    """Return lines, encoding and mark of a text file; None where it is not sound."""
    encoding = source.encoding
    if encoding is None:
        encoding = detect_encoding(
            path,
            compressed=contents.compressed,
            head=contents.head,
            limits=source.limits,
        ).name
    lines = list(
        text_lines(
            path,
            encoding=encoding,
            compressed=contents.compressed,
            limits=source.limits,
        )
    )
    raw = _bytes_of(path, source, contents)
    for mark, codec in _codecs(encoding, raw):
        try:
            if mark + "".join(lines).encode(codec) == raw:
                return lines, codec, mark
        except UnicodeError:
            continue
    return None


def _bytes_of(path: Path, source: SourceBlock, contents: Contents) -> bytes:
    compressed = contents.compressed
    with open_bytes(path, compressed=compressed, limits=source.limits) as stream:
        return stream.read()


def _codecs(encoding: str, raw: bytes) -> list[tuple[bytes, str]]:
    """Return the ways in which text may have been written, with the mark before it."""
    name = codecs.lookup(encoding).name
    if name in ("utf-8", "utf-8-sig"):
        return [(b"", "utf-8"), (codecs.BOM_UTF8, "utf-8")]
    if name.startswith("utf-16"):
        marks = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
        found = [(mark, own) for mark, own in marks.items() if raw.startswith(mark)]
        return found or [(b"", "utf-16-le"), (b"", "utf-16-be")]
    return [(b"", name)]


def _packed(text: str, codec: str, mark: bytes, contents: Contents) -> bytes:
    raw = mark + text.encode(codec)
    # no time of day in it, so that the same rows give the same bytes
    return gzip.compress(raw, mtime=0) if contents.compressed else raw


def _text(
    path: Path,
    source: SourceBlock,
    contents: Contents,
    traces: Traces,
    *,
    masks_only: bool,
) -> Rewritten:
    """Empty the lines of erased rows, and mask identifiers in the others."""
    found = _lines_of(path, source, contents)
    if found is None:
        whole = _bytes_of(path, source, contents)
        shown = traces.shown_by(whole.decode("utf-8", "replace"))
        why = f"its bytes do not read as one encoding: {BY_HAND}" if shown else ""
        return Rewritten(rows=int(shown), why=why)
    lines, codec, mark = found
    n_rows = 0
    rejected = _rejected_lines(path, traces)
    for first, n_lines, cells, raw in (
        () if masks_only else text_records(path, source=source)
    ):
        own = cells if cells is not None else [raw]
        is_one = any(traces.is_erased(cell) for cell in own)
        if is_one or first in rejected or (cells is None and traces.shown_by(raw)):
            n_rows += 1
            for at in range(first - 1, first - 1 + n_lines):
                body = lines[at].rstrip("\r\n")
                lines[at] = lines[at][len(body) :]
    for at, line in enumerate(lines):
        masked = traces.masked(line, standing=masks_only)
        if masked != line:
            n_rows += 1
            lines[at] = masked
    if not n_rows:
        return Rewritten()
    return Rewritten(
        contents=_packed("".join(lines), codec, mark, contents), rows=n_rows
    )


def _rejected_lines(path: Path, traces: Traces) -> frozenset[int]:
    """Return lines of rows that were rejected and name what was erased."""
    if not traces.rejected:
        return frozenset()
    with path.open("rb") as handle:
        sha256 = hashlib.file_digest(handle, "sha256").hexdigest()
    return traces.rejected.get(sha256, frozenset())


class _Pruned:
    """Takes erased records out of a JSON value."""

    def __init__(self, traces: Traces) -> None:
        self._traces = traces
        self.n_rows = 0

    def value(self, value: Any) -> Any:  # JSON has no narrower type
        """Return a value without erased records and identifiers."""
        if isinstance(value, str):
            masked = self._traces.masked(value)
            self.n_rows += masked != value
            return masked
        if isinstance(value, list):
            kept = [one for one in value if not self.is_erased(one)]
            self.n_rows += len(value) - len(kept)
            return [self.value(one) for one in kept]
        if isinstance(value, dict):
            return {name: self.value(one) for name, one in value.items()}
        return value

    def is_erased(self, record: Any) -> bool:  # JSON has no narrower type
        """Tell whether a record tells of something erased by itself."""
        if isinstance(record, dict):
            return any(
                self.is_erased(one)
                for one in record.values()
                if not isinstance(one, list)
            )
        if isinstance(record, bool) or not isinstance(record, str | int):
            return False
        return self._traces.is_erased(str(record))


def _json(
    path: Path, source: SourceBlock, contents: Contents, traces: Traces
) -> Rewritten:
    """Take erased records out of a JSON document, or out of JSON Lines."""
    found = _lines_of(path, source, contents)
    if found is None:
        raise ValueError("bytes that are no text")
    lines, codec, mark = found
    pruned = _Pruned(traces)
    try:
        document = json.loads("".join(lines))
    except ValueError:
        lines = [_json_line(line, pruned) for line in lines]
        text = "".join(lines)
    else:
        if pruned.is_erased(document):
            return Rewritten(rows=1, why=f"it holds one record alone: {BY_HAND}")
        indent = 2 if len(lines) > 1 else None
        plain = "".join(lines).isascii()
        text = json.dumps(pruned.value(document), ensure_ascii=plain, indent=indent)
        text += "\n"
    if not pruned.n_rows:
        return Rewritten()
    return Rewritten(contents=_packed(text, codec, mark, contents), rows=pruned.n_rows)


def _json_line(line: str, pruned: _Pruned) -> str:
    """Return a line of JSON Lines without what was erased; empty where it is that."""
    end = line[len(line.rstrip("\r\n")) :]
    before = pruned.n_rows
    try:
        record = json.loads(line)
    except ValueError:
        value = pruned.value(line)
        return str(value)
    if pruned.is_erased(record):
        pruned.n_rows += 1
        return end
    kept = pruned.value(record)
    if pruned.n_rows == before:
        return line
    return json.dumps(kept, ensure_ascii=line.isascii()) + end


def _parquet(path: Path, traces: Traces) -> Rewritten:
    """Take erased rows out of a Parquet file; every column keeps its type."""
    frame = parquet_rows(path)
    gone: set[int] = set()
    masked: dict[str, dict[int, str]] = {}
    for name in frame.columns:
        for at, text in enumerate(frame[name].tolist()):
            if not isinstance(text, str):
                continue
            if traces.is_erased(text):
                gone.add(at)
            elif (plain := traces.masked(text)) != text:
                masked.setdefault(str(name), {})[at] = plain
    n_rows = len(gone) + sum(len(texts) for texts in masked.values())
    if not n_rows:
        return Rewritten()
    return Rewritten(contents=parquet_without(path, gone, masked), rows=n_rows)


def is_archive(path: Path) -> bool:
    """Tell an archive of files from a workbook, which is one too."""
    if not zipfile.is_zipfile(path):
        return False
    with zipfile.ZipFile(path) as archive:
        names = set(archive.namelist())
    return not names & {"[Content_Types].xml", "content.xml"}


def _archive(
    path: Path, source: SourceBlock, traces: Traces, *, masks_only: bool
) -> Rewritten:
    """Write an archive again with each of its files written again."""
    out, n_rows = io.BytesIO(), 0
    most = source.limits.unpacked_mb * MEGA
    with (
        zipfile.ZipFile(path) as archive,
        zipfile.ZipFile(out, "w") as made,
        tempfile.TemporaryDirectory(prefix=".", suffix=".draft") as beside,
    ):
        if sum(entry.file_size for entry in archive.infolist()) > most:
            return Rewritten(rows=1, why=f"it unpacks to too much: {BY_HAND}")
        for entry in archive.infolist():
            raw = archive.read(entry)
            if traces.masked(entry.filename) != entry.filename:
                return Rewritten(rows=1, why=f"it names {MASK} in a name: {BY_HAND}")
            if not entry.is_dir():
                own = Path(beside) / Path(entry.filename).name
                own.write_bytes(raw)
                told = rewritten(own, source, traces, masks_only=masks_only)
                own.unlink()
                if told.why:
                    why = f"{entry.filename} in it: {told.why}"
                    return Rewritten(rows=told.rows, why=why)
                n_rows += told.rows
                raw = raw if told.contents is None else told.contents
            made.writestr(entry, raw)
    return Rewritten(contents=out.getvalue(), rows=n_rows) if n_rows else Rewritten()
