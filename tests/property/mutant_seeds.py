"""Sound exports in every format that is read, small, to be damaged."""

from __future__ import annotations

import csv
import gzip
import io
import json
import zipfile
from dataclasses import dataclass
from datetime import date, timedelta
from xml.sax.saxutils import escape

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter
import xlwt

__all__ = ["HEADER", "SEEDS", "Seed"]

HEADER = (
    "claim_no",
    "reported_on",
    "serial",
    "model",
    "narrative",
    "status",
    "cost_total",
    "currency",
)
_TEXTS = (
    "motor dead, no drive",
    'the 20" wheel rubs; noise',
    "Wasser in der Anzeige",
    "chargeur ne fonctionne plus, été 2024",
    "rear light dark",
    "Kette gerissen - Größe M",
    "",
)
_N_ROWS = 24


@dataclass(frozen=True, slots=True)
class Seed:
    """One sound export.

    Parameters
    ----------
    name : str
        Format and dialect.
    form : str
        text, json, lines, xlsx, xls, ods or parquet.
    file : str
        Name of the file.
    contents : bytes
        What it holds.
    encoding, delimiter : str
        Of text.
    packed : bool
        With gzip.
    """

    name: str
    form: str
    file: str
    contents: bytes
    encoding: str = "utf-8"
    delimiter: str = ","
    packed: bool = False


def _rows(*, with_breaks: bool = False) -> list[list[str]]:
    rows = []
    for number in range(_N_ROWS):
        text = _TEXTS[number % len(_TEXTS)]
        if with_breaks and number % 3 == 0:
            text = f"{text}\nsecond line, of {number}"
        rows.append(
            [
                f"WC-{number:04d}",
                str(date(2024, 3, 1) + timedelta(days=number)),
                f"SN{number:06d}",
                "Heron 3",
                text,
                ("open", "closed", "")[number % 3],
                f"{12 + number}.50",
                "EUR",
            ]
        )
    return rows


def _text(rows: list[list[str]], delimiter: str, end: str, quoting: int) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end, quoting=quoting)
    writer.writerow(HEADER)
    writer.writerows(rows)
    return out.getvalue()


def _records() -> list[dict[str, object]]:
    return [
        {
            **dict(zip(HEADER, row, strict=True)),
            "cost_total": float(row[6]),
            "more": {"shop": "north", "parts": [1, 2]},
        }
        for row in _rows()
    ]


def _xlsx() -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet = book.add_worksheet("Claims")
        sheet.write_row(0, 0, HEADER)
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for number, row in enumerate(_rows(), start=1):
            sheet.write_row(number, 0, row)
            sheet.write_datetime(number, 1, date.fromisoformat(row[1]), day)
            sheet.write_number(number, 6, float(row[6]))
    return out.getvalue()


def _xls() -> bytes:
    book = xlwt.Workbook()
    sheet = book.add_sheet("Claims")
    for number, row in enumerate([list(HEADER), *_rows()]):
        for column, cell in enumerate(row):
            sheet.write(number, column, cell)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _ods() -> bytes:
    def cell(text: str) -> str:
        if not text:
            return "<table:table-cell/>"
        return (
            '<table:table-cell office:value-type="string">'
            f"<text:p>{escape(text)}</text:p></table:table-cell>"
        )

    spaces = (
        'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
        'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
    )
    rows = "".join(
        f"<table:table-row>{''.join(map(cell, row))}</table:table-row>"
        for row in [list(HEADER), *_rows()]
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces}>'
        '<office:body><office:spreadsheet><table:table table:name="Claims">'
        f"{rows}</table:table></office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<?xml version="1.0"?><manifest:manifest xmlns:manifest='
        '"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        "</manifest:manifest>"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("content.xml", content, zipfile.ZIP_DEFLATED)
        archive.writestr("META-INF/manifest.xml", manifest, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _parquet() -> bytes:
    columns = dict(zip(HEADER, zip(*_rows(), strict=True), strict=True))
    out = io.BytesIO()
    pq.write_table(
        pa.table({name: list(cells) for name, cells in columns.items()}), out
    )
    return out.getvalue()


def _seeds() -> tuple[Seed, ...]:
    plain, broken = _rows(), _rows(with_breaks=True)
    comma = _text(plain, ",", "\n", csv.QUOTE_MINIMAL)
    lines = "".join(json.dumps(one, ensure_ascii=False) + "\n" for one in _records())
    array = json.dumps(_records(), ensure_ascii=False, indent=1)
    return (
        Seed("csv, comma, UTF-8", "text", "a.csv", comma.encode()),
        Seed(
            "csv, semicolon, cp1252",
            "text",
            "b.csv",
            _text(plain, ";", "\r\n", csv.QUOTE_MINIMAL).encode("cp1252"),
            "cp1252",
            ";",
        ),
        Seed(
            "csv, all quoted, breaks in cells, BOM",
            "text",
            "c.csv",
            _text(broken, ",", "\r\n", csv.QUOTE_ALL).encode("utf-8-sig"),
            "utf-8-sig",
        ),
        Seed(
            "tsv, UTF-16",
            "text",
            "d.tsv",
            _text(plain, "\t", "\n", csv.QUOTE_MINIMAL).encode("utf-16"),
            "utf-16",
            "\t",
        ),
        Seed(
            "pipe, latin-1, old line ends",
            "text",
            "e.txt",
            _text(plain, "|", "\r", csv.QUOTE_MINIMAL).encode("latin-1"),
            "latin-1",
            "|",
        ),
        Seed("csv.gz", "text", "f.csv.gz", gzip.compress(comma.encode()), packed=True),
        Seed("JSON array", "json", "g.json", array.encode()),
        Seed("JSON Lines", "lines", "h.jsonl", lines.encode()),
        Seed("xlsx", "xlsx", "i.xlsx", _xlsx()),
        Seed("xls", "xls", "j.xls", _xls()),
        Seed("ods", "ods", "k.ods", _ods()),
        Seed("Parquet", "parquet", "l.parquet", _parquet()),
    )


SEEDS = _seeds()
