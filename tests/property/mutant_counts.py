"""Count the records of a damaged export without claimlens, where that is defined."""

from __future__ import annotations

import csv
import gzip
import io
import json
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass
from xml.etree import ElementTree

import pyarrow as pa
import pyarrow.parquet as pq
import xlrd
from mutant_maker import Mutant
from mutant_seeds import HEADER, Seed
from xlrd.compdoc import CompDocError

__all__ = ["Count", "count"]

csv.field_size_limit(1 << 30)

_ZIP_DAMAGES = (zipfile.BadZipFile, zlib.error, LookupError, ValueError, OSError)
_XLS_DAMAGES = (
    *(xlrd.XLRDError, struct.error, AssertionError, IndexError, KeyError),
    *(NotImplementedError, TypeError, ValueError, AttributeError, OverflowError),
    *(CompDocError, MemoryError, RecursionError, ZeroDivisionError),
)
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


@dataclass(frozen=True, slots=True)
class Count:
    """What an independent reader finds.

    Parameters
    ----------
    records : int
        Records below the header, blank ones and repeated headers left out.
    unsure : int
        Those of them that may be a note as well: a short line of one to three
        cells that does not begin like a key. A reader may skip them, but must
        say so.
    rows : tuple of tuple of str, optional
        Cells of the records of full width, without blanks around; None where
        letters may be read in more than one way.
    """

    records: int
    unsure: int = 0
    rows: tuple[tuple[str, ...], ...] | None = None


def count(mutant: Mutant) -> Count | None:
    """Return what a mutant holds; None where that is open to argument."""
    seed, data = mutant.seed, mutant.contents
    if data.startswith(b"\x1f\x8b"):
        try:
            data = gzip.decompress(data)
        except (OSError, EOFError, zlib.error):
            return None
    elif seed.packed:
        return None
    by_form = {
        "text": _text,
        "json": _json,
        "lines": _json_lines,
        "xlsx": _xlsx,
        "ods": _ods,
        "xls": _xls,
        "parquet": _parquet,
    }
    return by_form[seed.form](data, seed)


def _is_header(cells: list[str]) -> bool:
    plain = [" ".join(re.sub('[\ufeff"]', "", cell).split()) for cell in cells]
    return [cell.casefold() for cell in plain] == list(HEADER)


def _is_total(cells: list[str]) -> bool:
    """Tell figures without a key: a total, or what is left of a row."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    figures = all(re.fullmatch(r"[\d.,\s-]+", cell) for cell in filled)
    return figures and not cells[0].strip()


def _is_unsure(cells: list[str]) -> bool:
    """Tell a line that may be a note below the table, or what is left of a row."""
    filled = [cell for cell in cells if cell.strip()]
    if len(cells) >= len(HEADER) or len(filled) > 3:
        return False
    return len(filled) == 1 or not re.match(r"\s*WC-\d", cells[0])


def _text(data: bytes, seed: Seed) -> Count | None:
    try:
        text, is_sure = data.decode(seed.encoding), True
    except UnicodeError:
        if seed.encoding.startswith("utf-16"):
            return None
        text, is_sure = data.decode(seed.encoding, "replace"), False
    text = text.removeprefix("\ufeff")
    if text.endswith(("\n\x1a", "\r\x1a")):  # the end-of-file mark of old systems
        text = text[:-1]
    if re.search(r"[\x80-\x9f]", text):  # which letters these are, is a guess
        is_sure = False
    lines = re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+$", text)
    reader = csv.reader(
        lines, delimiter=seed.delimiter, strict=True, skipinitialspace=True
    )
    records: list[list[str]] = []
    before = 0
    try:
        for cells in reader:
            # a quote over lines that are records by themselves is open to argument
            if reader.line_num - before > 1 and _is_open(
                lines[before : reader.line_num], cells, seed
            ):
                return None
            before = reader.line_num
            records.append(cells)
    except csv.Error:
        return None
    filled = [cells for cells in records if any(cell.strip() for cell in cells)]
    if not filled or not _is_header(filled[0]):
        return None
    body = [cells for cells in filled[1:] if not _is_header(cells)]
    if any(map(_is_total, body)):
        return None
    rows = tuple(
        tuple(cell.strip() for cell in cells)
        for cells in body
        if len(cells) == len(HEADER) and not any("\0" in cell for cell in cells)
    )
    return Count(
        len(body),
        sum(map(_is_unsure, body)),
        rows if is_sure and "\0" not in text else None,
    )


def _is_open(lines: list[str], cells: list[str], seed: Seed) -> bool:
    """Tell whether a record over several lines may be read in another way."""
    if len(cells) != len(HEADER):
        return True
    return any(len(line.split(seed.delimiter)) >= len(HEADER) for line in lines)


def _json(data: bytes, _: Seed) -> Count | None:
    try:
        told = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return None
    if not isinstance(told, list) or not any(isinstance(one, dict) for one in told):
        return None
    return Count(len(told))


def _json_lines(data: bytes, _: Seed) -> Count | None:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeError:
        return None
    lines = [line for line in re.split(r"\r\n|\r|\n", text) if line.strip()]
    if lines and lines[-1] == "\x1a":  # the end-of-file mark of old systems
        lines.pop()
    if not lines or not lines[0].lstrip().startswith('{"'):
        return None
    if sum(line.lstrip().startswith("{") for line in lines) <= 0.6 * len(lines):
        return None
    return Count(len(lines))


def _grid(rows: list[list[str]]) -> Count | None:
    filled = [row for row in rows if any(cell.strip() for cell in row)]
    if not filled or not _is_header(filled[0]):
        return None
    if any(map(_is_total, filled)):
        return None
    return Count(sum(not _is_header(row) for row in filled[1:]))


def _xlsx(data: bytes, _: Seed) -> Count | None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if archive.testzip() is not None:
                return None
            sheet = ElementTree.fromstring(archive.read("xl/worksheets/sheet1.xml"))
            shared = ElementTree.fromstring(archive.read("xl/sharedStrings.xml"))
    except (*_ZIP_DAMAGES, ElementTree.ParseError, NotImplementedError, RuntimeError):
        return None
    texts = ["".join(one.itertext()) for one in shared.iter(f"{_MAIN}si")]
    rows = []
    places: list[tuple[int, int]] = []
    try:
        for row in sheet.iter(f"{_MAIN}row"):
            cells = []
            for cell in row.iter(f"{_MAIN}c"):
                found = re.fullmatch(r"([A-Z]+)(\d+)", cell.get("r", ""))
                if found is None or found.group(2) != row.get("r"):
                    return None
                column = sum(
                    (ord(c) - 64) * 26**n for n, c in enumerate(found.group(1)[::-1])
                )
                places.append((int(found.group(2)), column))
                value = cell.findtext(f"{_MAIN}v") or ""
                kind = cell.get("t", "n")
                if kind not in ("s", "n"):
                    return None
                if kind == "n" and value:
                    float(value)
                cells.append(texts[int(value)] if kind == "s" and value else value)
            rows.append(cells)
    except (ValueError, IndexError):
        return None
    return _grid(rows) if places == sorted(set(places)) else None


def _ods(data: bytes, _: Seed) -> Count | None:
    table = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if archive.testzip() is not None:
                return None
            content = archive.read("content.xml")
            root = ElementTree.fromstring(content)
    except (*_ZIP_DAMAGES, ElementTree.ParseError, NotImplementedError, RuntimeError):
        return None
    if b"repeated" in content:
        return None
    rows = [
        ["".join(cell.itertext()) for cell in row.iter(f"{table}table-cell")]
        for row in root.iter(f"{table}table-row")
    ]
    return _grid(rows)


def _xls(data: bytes, _: Seed) -> Count | None:
    try:
        with xlrd.open_workbook(file_contents=data, logfile=io.StringIO()) as book:
            page = book.sheet_by_index(0)
            rows = [
                [str(cell) for cell in page.row_values(n)] for n in range(page.nrows)
            ]
    except _XLS_DAMAGES:
        return None
    return _grid(rows)


def _parquet(data: bytes, _: Seed) -> Count | None:
    try:
        table = pq.read_table(io.BytesIO(data))
    except (
        pa.ArrowException,
        OSError,
        ValueError,
        KeyError,
        UnicodeError,
        MemoryError,
    ):
        return None
    return Count(table.num_rows) if table.column_names == list(HEADER) else None
