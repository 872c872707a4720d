"""Write a workbook again without the rows of something erased."""

from __future__ import annotations

import gzip
import io
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import xlrd
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from claimlens.ingest.padding import as_padded
from claimlens.ingest.rewritten import BY_HAND, Rewritten
from claimlens.ingest.traces import Traces

__all__ = ["without_rows"]

_GZIP = b"\x1f\x8b"
_COMPOUND = b"\xd0\xcf\x11\xe0"
# parts of a workbook that the library would lose, or where a name may hide
_FRAGILE = (
    "vbaProject", "/drawings/", "/charts/", "/pivot", "/media/", "externalLink",
    "/embeddings/", "/queryTables/", "connections.xml", "/comments", "/threaded",
)  # fmt: skip
# of the OpenDocument format 1.3, part 3
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_THUMBNAIL = "Thumbnails/thumbnail.png"
_CELLS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")


def without_rows(path: Path, traces: Traces) -> Rewritten:
    """Return a workbook with the rows of something erased empty.

    Parameters
    ----------
    path : Path
        Of .xlsx, .ods or .xls, by its bytes; may be packed with gzip.
    traces : Traces
        What to look for.

    Raises
    ------
    ValueError, KeyError, zipfile.BadZipFile
        If it is damaged.
    """
    raw = path.read_bytes()
    if raw.startswith(_GZIP):
        made = _without_rows(gzip.decompress(raw), traces)
        if made.contents is None:
            return made
        # no time of day in it, so that the same rows give the same bytes
        packed = gzip.compress(made.contents, mtime=0)
        return Rewritten(contents=packed, rows=made.rows, note=made.note)
    return _without_rows(raw, traces)


def _without_rows(raw: bytes, traces: Traces) -> Rewritten:
    if raw.startswith(_COMPOUND):
        return _of_records(raw, traces)
    if not zipfile.is_zipfile(io.BytesIO(raw)):
        return _judged(raw, traces)
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        names = archive.namelist()
        if "content.xml" in names:
            return _open_document(archive, traces)
        texts = [archive.read(name).decode("utf-8", "replace") for name in names]
    is_plain = "xl/workbook.xml" in names and not any(
        part in f"/{name}" for name in names for part in _FRAGILE
    )
    if is_plain:
        return _cleared(raw, traces)
    if not any(traces.shown_by(text) for text in texts):
        return Rewritten()
    why = f"it holds drawings, macros or links that would be lost: {BY_HAND}"
    return Rewritten(rows=1, why=why)


def _judged(raw: bytes, traces: Traces) -> Rewritten:
    """Judge a workbook that is not written here by its bytes."""
    shown = traces.shown_by(raw.decode("latin-1")) or traces.shown_by(
        raw.decode("utf-16-le", "replace")
    )
    why = f"workbooks of this format are not written here: {BY_HAND}" if shown else ""
    return Rewritten(rows=int(shown), why=why)


def _cleared(raw: bytes, traces: Traces) -> Rewritten:
    """Return a plain workbook with the cells of erased rows empty."""
    return _cleared_book(openpyxl.load_workbook(io.BytesIO(raw)), traces)


def _cleared_book(book: openpyxl.Workbook, traces: Traces) -> Rewritten:
    n_rows, has_formulas = 0, False
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            cells = [cell for cell in row if cell.value is not None]
            has_formulas |= any(cell.data_type == "f" for cell in cells)
            if any(
                traces.is_erased(as_padded(cell.value, cell.number_format))
                for cell in cells
            ):
                n_rows += 1
                for cell in cells:
                    cell.value = None
                    cell.comment = None
                continue
            for cell in cells:
                if isinstance(cell.value, str):
                    masked = traces.masked(cell.value)
                    n_rows += masked != cell.value
                    cell.value = masked
    if not n_rows:
        return Rewritten()
    if has_formulas:
        why = f"it holds formulas, whose results would go: {BY_HAND}"
        return Rewritten(rows=1, why=why)
    out = io.BytesIO()
    book.save(out)
    return Rewritten(contents=out.getvalue(), rows=n_rows)


def _of_records(raw: bytes, traces: Traces) -> Rewritten:
    """Return an .xls workbook as an .xlsx one, erased rows empty."""
    try:
        old = xlrd.open_workbook(
            file_contents=raw, formatting_info=True, logfile=io.StringIO()
        )
    except Exception as error:  # the library raises whatever its code meets
        raise ValueError("an .xls workbook that cannot be read") from error
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    if old.datemode:
        book.epoch = CALENDAR_MAC_1904
    forms = [old.format_map[style.format_key].format_str for style in old.xf_list]
    for page in old.sheets():
        sheet = book.create_sheet(page.name)
        for row in range(page.nrows):
            for column, cell in enumerate(page.row(row)):
                value = _value_of(cell)
                if value is None:
                    continue
                made = sheet.cell(row + 1, column + 1, value)
                if cell.ctype == xlrd.XL_CELL_TEXT:
                    # a text that begins like a formula is a text
                    made.data_type = "s"
                made.number_format = forms[cell.xf_index]
    made_again = _cleared_book(book, traces)
    if made_again.contents is None:
        return made_again if made_again.why else _judged(raw, traces)
    return Rewritten(
        contents=made_again.contents,
        rows=made_again.rows,
        note="now a workbook of the .xlsx format under its old name: values and "
        "number formats stay, other formats go",
    )


def _value_of(cell: xlrd.sheet.Cell) -> str | float | bool | None:
    """Return what a cell holds; None where it is empty."""
    if cell.ctype in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK):
        return None
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return bool(cell.value)
    if cell.ctype == xlrd.XL_CELL_ERROR:
        return str(xlrd.error_text_from_code.get(cell.value, "#N/A"))
    value: str | float = cell.value
    return value


def _open_document(archive: zipfile.ZipFile, traces: Traces) -> Rewritten:
    """Return an .ods workbook with the cells of erased rows empty."""
    content = archive.read("content.xml")
    for _, (prefix, name) in ET.iterparse(io.BytesIO(content), ["start-ns"]):
        if not re.fullmatch(r"ns\d+", prefix):
            ET.register_namespace(prefix, name)
    root = ET.fromstring(content)
    n_rows = _clear_sheets(root, traces) + _mask_tree(root, traces)
    others = {
        name: archive.read(name)
        for name in archive.namelist()
        if name not in ("content.xml", _THUMBNAIL)
    }
    shown = [
        name
        for name, part in others.items()
        if traces.shown_by(f"{name} {part.decode('utf-8', 'replace')}")
    ]
    if shown:
        why = f"its part {shown[0]} shows what was erased: {BY_HAND}"
        return Rewritten(rows=1, why=why)
    if not n_rows:
        return Rewritten()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for entry in archive.infolist():
            if entry.filename == "content.xml":
                made.writestr(entry, ET.tostring(root, "utf-8", xml_declaration=True))
            elif entry.filename == "META-INF/manifest.xml":
                # the picture of the first page goes with the rows that it shows
                listed = others[entry.filename].decode("utf-8")
                picture = rf"<[^<>]*{re.escape(_THUMBNAIL)}[^<>]*/>"
                made.writestr(entry, re.sub(picture, "", listed))
            elif entry.filename != _THUMBNAIL:
                made.writestr(entry, others[entry.filename])
    return Rewritten(contents=out.getvalue(), rows=n_rows)


def _clear_sheets(root: ET.Element, traces: Traces) -> int:
    """Empty the rows of something erased; return how many."""
    n_rows = 0
    for row in root.iter(f"{_TABLE}table-row"):
        cells = [cell for cell in row if cell.tag in _CELLS]
        if any(traces.is_erased(text) for cell in cells for text in _texts(cell)):
            n_rows += 1
            for cell in cells:
                repeated = cell.get(f"{_TABLE}number-columns-repeated")
                cell.clear()
                if repeated is not None:
                    cell.set(f"{_TABLE}number-columns-repeated", repeated)
    return n_rows


def _texts(cell: ET.Element) -> Iterator[str]:
    """Yield what a cell of a sheet may be read as."""
    yield "".join(cell.itertext())
    for paragraph in cell.findall(f"{_TEXT}p"):
        yield "".join(paragraph.itertext())
    for name in ("value", "string-value"):
        if (value := cell.get(f"{_OFFICE}{name}")) is not None:
            yield value.removesuffix(".0")


def _mask_tree(root: ET.Element, traces: Traces) -> int:
    """Mask identifiers in all texts of a document; return in how many places."""
    n_places = 0
    for paragraph in root.iter(f"{_TEXT}p"):
        whole = "".join(paragraph.itertext())
        masked = traces.masked(whole)
        if masked != whole:
            n_places += 1
            tail = paragraph.tail
            paragraph.clear()
            paragraph.text, paragraph.tail = masked, tail
    for element in root.iter():
        for name, value in list(element.attrib.items()):
            masked = traces.masked(value)
            if masked != value:
                n_places += 1
                element.set(name, masked)
    return n_places
