"""Workbooks: sheets, headers, dates, numbers and leading zeros."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import xlsxwriter
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from claimlens.errors import SourceError
from claimlens.ingest import dates
from claimlens.ingest.records import Records, SourceBlock, open_records
from claimlens.ingest.workbooks import cell_text

HEADER = ["Claim no", "Reported on", "Serial", "Narrative", "Cost total", "Goodwill"]


def _rows(records: Records) -> list[tuple[int, tuple[str | None, ...]]]:
    return [
        (row, cells)
        for chunk in records.chunks()
        for row, cells in zip(
            chunk.rows, zip(*chunk.values.values(), strict=True), strict=True
        )
    ]


def _book(
    path: Path,
    fill: Callable[[xlsxwriter.Workbook, xlsxwriter.worksheet.Worksheet], None],
    **options: object,
) -> Path:
    book = xlsxwriter.Workbook(path, options)
    book.add_worksheet("Read me").write(0, 0, "Export of claims")
    sheet = book.add_worksheet("Claims")
    sheet.write_row(3, 1, HEADER)
    fill(book, sheet)
    book.close()
    return path


def test_the_sheet_and_its_offset_header_are_found(tmp_path: Path) -> None:
    def fill(book: xlsxwriter.Workbook, sheet: xlsxwriter.worksheet.Worksheet) -> None:
        sheet.write(0, 1, "Claims of the north")
        day = book.add_format({"num_format": "dd.mm.yyyy"})
        zeros = book.add_format({"num_format": "000000"})
        sheet.write(4, 1, "WC-1")
        sheet.write_datetime(4, 2, datetime(2024, 3, 5), day)
        sheet.write_number(4, 3, 1234, zeros)
        sheet.write(4, 4, "rattles")
        sheet.write_number(4, 5, 0.1 + 0.2)
        sheet.write_boolean(4, 6, True)
        sheet.write(5, 1, "WC-2")
        sheet.write_datetime(5, 2, datetime(2024, 3, 5, 14, 30), day)
        sheet.write_string(5, 3, "001235")
        sheet.write_formula(5, 4, "=NA()", None, "#N/A")
        sheet.write_number(5, 5, 12.0)
        sheet.write_boolean(5, 6, False)
        sheet.write(7, 1, "Total")
        sheet.write_number(7, 5, 12.3)
        sheet.write(9, 1, "Printed on 1 May 2024")

    records = open_records(
        _book(tmp_path / "a.xlsx", fill), source=SourceBlock(name="x")
    )
    assert records.layout.sheet == "Claims"
    assert records.headers == tuple(HEADER)
    assert _rows(records) == [
        (5, ("WC-1", "2024-03-05", "001234", "rattles", "0.3", "yes")),
        (6, ("WC-2", "2024-03-05 14:30:00", "001235", None, "12", "no")),
    ]
    assert records.rows_read == 2
    assert records.skipped_lines == 3 + 4  # above the header, and below the rows


@pytest.mark.parametrize("from_1904", [False, True])
def test_day_numbers_of_both_counts_become_the_same_date(
    tmp_path: Path, from_1904: bool
) -> None:
    number = 45356 - (1462 if from_1904 else 0)

    def fill(book: xlsxwriter.Workbook, sheet: xlsxwriter.worksheet.Worksheet) -> None:
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        sheet.write_row(4, 1, ["WC-1", number, "S1", "x", 1])
        sheet.write(5, 1, "WC-2")
        sheet.write_datetime(5, 2, datetime(2024, 3, 5), day)

    path = _book(tmp_path / "a.xlsx", fill, date_1904=from_1904)
    records = open_records(path, source=SourceBlock(name="x"))
    texts = [cells[1] or "" for _, cells in _rows(records)]
    parsed = dates.parse(texts, None, excel_serials=records.is_workbook)
    assert {str(day) for day in parsed.values()} == {"2024-03-05"}


def test_a_serial_number_that_looks_like_a_day_number_stays_text(
    tmp_path: Path,
) -> None:
    def fill(_: xlsxwriter.Workbook, sheet: xlsxwriter.worksheet.Worksheet) -> None:
        sheet.write_row(4, 1, ["WC-1", "2024-03-05", 45356, "x", 1])

    path = _book(tmp_path / "a.xlsx", fill)
    records = open_records(path, source=SourceBlock(name="x"))
    assert _rows(records)[0][1][2] == "45356"


def test_a_number_with_three_decimals_is_not_taken_for_thousands(
    tmp_path: Path,
) -> None:
    def fill(_: xlsxwriter.Workbook, sheet: xlsxwriter.worksheet.Worksheet) -> None:
        sheet.write_row(4, 1, ["WC-1", "2024-03-05", "S1", "x", 1.234])

    records = open_records(
        _book(tmp_path / "a.xlsx", fill), source=SourceBlock(name="x", decimal=",")
    )
    assert _rows(records)[0][1][4] == "1.2340"


def test_merged_cells_do_not_shift_the_rows(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.merge_cells("A1:F1")
    sheet["A1"] = "Claims"
    sheet.append(HEADER)
    sheet.append(["WC-1", "2024-03-05", "S1", "x", 1, "no"])
    book.save(path)
    records = open_records(path, source=SourceBlock(name="x"))
    assert _rows(records)[0] == (3, ("WC-1", "2024-03-05", "S1", "x", "1", "no"))


def test_old_workbooks_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.xls"
    book = xlwt.Workbook()
    sheet = book.add_sheet("Claims")
    day = xlwt.easyxf(num_format_str="DD.MM.YYYY")
    for column, header in enumerate(HEADER):
        sheet.write(0, column, header)
    sheet.write(1, 0, "WC-1")
    sheet.write(1, 1, datetime(2024, 3, 5), day)
    sheet.write(1, 2, "007")
    sheet.write(1, 4, 12.5)
    book.save(str(path))
    records = open_records(path, source=SourceBlock(name="x"))
    assert _rows(records)[0][1] == ("WC-1", "2024-03-05", "007", None, "12.5", None)


def test_open_document_sheets_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.ods"
    book = OpenDocumentSpreadsheet()
    table = Table(name="Claims")
    for cells in (HEADER[:3], ["WC-1", "2024-03-05", "007"]):
        row = TableRow()
        for text in cells:
            cell = TableCell(valuetype="string", stringvalue=text)
            cell.addElement(P(text=text))
            row.addElement(cell)
        table.addElement(row)
    book.spreadsheet.addElement(table)
    book.save(str(path))
    records = open_records(path, source=SourceBlock(name="x"))
    assert _rows(records) == [(2, ("WC-1", "2024-03-05", "007"))]


def test_the_reader_is_chosen_by_content_not_by_suffix(tmp_path: Path) -> None:
    path = tmp_path / "claims.xls"
    path.write_bytes(b"claim_no\treported_on\r\nWC-1\t2024-03-05\r\n")
    records = open_records(path, source=SourceBlock(name="x"))
    assert records.layout.kind == "text"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (12.0, "12"),
        (0.30000000000000004, "0.3"),
        (1e15, "1000000000000000"),
        (1.5e-7, "0.00000015"),
        (True, "yes"),
        ("#REF!", ""),
        ("#1", "#1"),
        (None, ""),
    ],
)
def test_cells_become_the_shortest_text(value: object, text: str) -> None:
    assert cell_text(value) == text  # type: ignore[arg-type]


def test_parquet_rows_are_text(tmp_path: Path) -> None:
    path = tmp_path / "claims.parquet"
    pd.DataFrame(
        {
            "claim_no": ["1", None],
            "quantity": [1.0, 2.0],
            "reported_on": pd.to_datetime(["2024-03-05", "2024-03-06"]),
        }
    ).to_parquet(path)
    records = open_records(path, source=SourceBlock(name="x"))
    first = _rows(records)[0]
    assert first[0] == 1
    assert first[1][:2] == ("1", "1")
    assert str(first[1][2]).startswith("2024-03-05")


def test_a_sheet_in_an_encoding_that_does_not_exist_gives_one_message(
    tmp_path: Path,
) -> None:
    """Padded numbers are read with a second library, which looks the name up."""
    sound, path = tmp_path / "sound.xlsx", tmp_path / "claims.xlsx"
    with xlsxwriter.Workbook(sound) as book:
        sheet = book.add_worksheet("Claims")
        sheet.write_row(0, 0, ["claim_no", "reported_on", "serial"])
        zeros = book.add_format({"num_format": "000000"})
        for row in range(1, 4):
            sheet.write_row(row, 0, [f"WC-{row}", "2024-03-01"])
            sheet.write_number(row, 2, row, zeros)
    with zipfile.ZipFile(sound) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name.endswith("sheet1.xml"):
                part = part.replace(b"UTF-8", b"UTF-99999999", 1)
            new.writestr(name, part)
    with pytest.raises(SourceError, match="The workbook is damaged"):
        open_records(path, source=SourceBlock(name="x"))
