"""A report's workbook: real numbers and dates, told what it is, the same each time."""

from __future__ import annotations

import io
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.workbook import Workbook
from python_calamine import CalamineWorkbook

from claimlens.errors import InputError, ReportError
from claimlens.handover import (
    ReportTables,
    Sheet,
    placing_all,
    sheet_document,
    to_json,
    typed,
    workbook_bytes,
)
from claimlens.handover.workbook import legal_names, legal_text

CLAIMS = Sheet(
    id="claims",
    title="Claims: by month",
    basis="Claims of every class; cut-off 30 April 2026.",
    frame=pd.DataFrame(
        {
            "month": pd.to_datetime(["2026-03-01", "2026-04-01", None]),
            "claims": [1200, 3, 0],
            "rate": [0.01234, np.nan, np.inf],
            "cost": pd.array([Decimal("12.50"), None, Decimal("-3")], dtype=object),
            "currency": ["EUR", None, "CHF"],
            "part_no": ["0042", "=1+1", "-7"],
            "model_year": [2024.0, 2025.0, np.nan],
            "mature": [True, False, True],
            "as_of": [date(2026, 4, 30)] * 3,
        }
    ),
    kinds={
        "month": "month",
        "claims": "count",
        "rate": "share",
        "cost": "money",
        "currency": "text",
        "part_no": "key",
        "model_year": "year",
        "mature": "flag",
        "as_of": "date",
    },
)


def book(*sheets: Sheet, title: str = "Warranty claims, April 2026") -> ReportTables:
    return ReportTables(
        report="monthly",
        title=title,
        about=(("cut-off", "2026-04-30"), ("settings", "0123456789ab")),
        sheets=sheets,
        definitions=(("Cut-off", "30 April 2026."),),
    )


def opened(tables: ReportTables) -> Workbook:
    return openpyxl.load_workbook(io.BytesIO(workbook_bytes(tables)))


def test_numbers_dates_and_flags_come_back_as_what_they_are() -> None:
    rows = CalamineWorkbook.from_filelike(
        io.BytesIO(workbook_bytes(book(CLAIMS)))
    ).get_sheet_by_name("Claims by month")
    assert rows.to_python() == [
        [*CLAIMS.kinds],
        [
            *(date(2026, 3, 1), 1200.0, 0.01234, 12.5, "EUR", "0042", 2024.0),
            *(True, date(2026, 4, 30)),
        ],
        [
            *(date(2026, 4, 1), 3.0, "", "", "", "'=1+1", 2025.0),
            *(False, date(2026, 4, 30)),
        ],
        ["", 0.0, "", -3.0, "CHF", "'-7", "", True, date(2026, 4, 30)],
    ]


def test_each_kind_is_shown_in_its_format() -> None:
    page = opened(book(CLAIMS))["Claims by month"]
    shown = {page.cell(1, place).value: page.cell(2, place) for place in range(1, 10)}
    assert {name: cell.number_format for name, cell in shown.items()} == {
        "month": "yyyy-mm",
        "claims": "#,##0",
        "rate": "0.00%",
        "cost": "#,##0.00",
        "currency": "General",
        "part_no": "General",
        "model_year": "0",
        "mature": "General",
        "as_of": "yyyy-mm-dd",
    }
    assert isinstance(shown["as_of"].value, datetime)
    assert shown["mature"].data_type == "b"
    assert shown["part_no"].data_type == "s"
    assert all(cell.data_type != "f" for row in page.iter_rows() for cell in row)


def test_the_header_is_frozen_filtered_and_wide_enough() -> None:
    page = opened(book(CLAIMS))["Claims by month"]
    assert page.freeze_panes == "A2"
    assert page.auto_filter.ref == "A1:I4"
    widths = {key: size.width for key, size in page.column_dimensions.items()}
    assert widths["I"] >= len("2026-04-30")
    assert all(8 <= width <= 61 for width in widths.values())


def test_the_first_sheet_says_what_it_is_and_leads_to_the_others() -> None:
    told = opened(book(CLAIMS))
    assert told.sheetnames == ["About", "Claims by month", "Columns", "Definitions"]
    page = told["About"]
    texts = [[cell.value for cell in row] for row in page.iter_rows()]
    assert texts[0][0] == "Warranty claims, April 2026"
    assert ["cut-off", "2026-04-30", None, None] in texts
    assert ["settings", "0123456789ab", None, None] in texts
    [listed] = [row for row in page.iter_rows() if row[0].value == "Claims by month"]
    assert [cell.value for cell in listed[1:3]] == [3, CLAIMS.basis]
    assert listed[0].hyperlink.location == "'Claims by month'!A1"
    columns = [[cell.value for cell in row] for row in told["Columns"].iter_rows()]
    assert columns[4][2:] == ["cost", "money", "an amount of money", "currency"]
    terms = [[cell.value for cell in row] for row in told["Definitions"].iter_rows()]
    assert terms == [["term", "meaning"], ["Cut-off", "30 April 2026."]]


def test_the_same_tables_give_the_same_bytes() -> None:
    assert workbook_bytes(book(CLAIMS)) == workbook_bytes(book(CLAIMS))


def test_a_table_without_rows_keeps_its_header() -> None:
    empty = Sheet(
        id="signals",
        title="Signals",
        basis="Cut-off 30 April 2026.",
        frame=pd.DataFrame({"component": [], "since": []}),
        kinds={"component": "text", "since": "date"},
        note="No register, so nothing was judged.",
    )
    told = opened(book(empty))
    assert [c.value for c in next(told["Signals"].iter_rows())] == [
        "component",
        "since",
    ]
    notes = [row[3].value for row in told["About"].iter_rows()]
    assert "No register, so nothing was judged." in notes


def test_a_date_before_the_calendar_of_spreadsheets_is_text() -> None:
    old = Sheet(
        id="old",
        title="Old",
        basis="",
        frame=pd.DataFrame({"day": [date(1899, 12, 31), date(2024, 2, 29)]}),
        kinds={"day": "date"},
    )
    cells = [row[0].value for row in opened(book(old))["Old"].iter_rows()]
    assert cells == ["day", "1899-12-31", datetime(2024, 2, 29)]


@given(st.lists(st.text(max_size=50), max_size=8), st.sampled_from(["a" * 40, "x"]))
def test_names_of_sheets_are_legal_and_each_once(titles: list[str], long: str) -> None:
    names = legal_names([*titles, long, long, "History", "about"], ["About"])
    assert len({name.casefold() for name in [*names, "About"]}) == len(titles) + 5
    for name in names:
        assert 0 < len(name.encode("utf-16-le")) // 2 <= 31
        assert not set(name) & set("[]:*?/\\")
        assert not name.startswith("'")
        assert not name.endswith("'")
        assert name.casefold() != "history"


@settings(deadline=None)  # a busy machine takes longer now and then
@given(st.text(st.characters(), max_size=40))
def test_any_text_can_be_written_and_read_back(text: str) -> None:
    sheet = Sheet(
        id="texts",
        title="Texts",
        basis="",
        frame=pd.DataFrame({"word": pd.array([f"x{text}"], dtype=object)}),
        kinds={"word": "text"},
    )
    assert opened(book(sheet))["Texts"]["A2"].value == legal_text(f"x{text}")


def test_what_a_cell_cannot_hold_is_marked() -> None:
    assert legal_text("a\x00b\x1bc\x7f\ud800\uffff") == (
        "a⟨U+0000⟩b⟨U+001B⟩c⟨U+007F⟩⟨U+D800⟩⟨U+FFFF⟩"
    )
    assert legal_text("one\r\ntwo\rthree\tfour") == "one\ntwo\nthree\tfour"
    assert legal_text("x" * 32_767) == "x" * 32_767
    for long in ("x" * 40_000, "=" + "\U0001f6b2" * 20_000):
        cut = legal_text(long)
        assert len(cut.encode("utf-16-le")) // 2 <= 32_767
        kept, said = cut.split(" [... cut: ")
        left_out = int(said.removesuffix(" more characters]").replace(",", ""))
        assert len(kept) + left_out == len(long) + cut.startswith("'")


def test_a_column_without_a_kind_does_not_leave() -> None:
    frame = pd.DataFrame({"component": ["frame"], "cost": [1.0]})
    with pytest.raises(ReportError, match="'cost' has not one kind"):
        Sheet(id="a", title="A", basis="", frame=frame, kinds={"component": "text"})
    with pytest.raises(ReportError, match="no currency"):
        Sheet(
            id="a",
            title="A",
            basis="",
            frame=frame,
            kinds={"component": "text", "cost": "money"},
        )
    with pytest.raises(ReportError, match="id is taken"):
        book(CLAIMS, CLAIMS)


def test_one_document_holds_everything_and_no_nan() -> None:
    document = sheet_document(book(CLAIMS))
    assert "NaN" not in to_json(document)
    table = document["tables"]["claims"]  # type: ignore[index]
    assert table["columns"] == dict(CLAIMS.kinds)
    assert table["rows"][1] == {
        "month": "2026-04-01",
        "claims": 3,
        "rate": None,
        "cost": None,
        "currency": None,
        "part_no": "=1+1",
        "model_year": 2025,
        "mature": False,
        "as_of": "2026-04-30",
    }


def test_a_count_that_is_no_whole_number_is_not_rounded() -> None:
    sheet = Sheet(
        id="a",
        title="A",
        basis="",
        frame=pd.DataFrame({"units": [1.5, 2.0]}),
        kinds={"units": "count"},
    )
    assert list(typed(sheet)["units"]) == [1.5, 2.0]
    assert opened(book(sheet))["A"]["A2"].number_format == "#,##0.0"


def place(*paths: Path) -> None:
    with placing_all(paths, overwrite=True) as write:
        for path in paths:
            write(path, b"after")


def test_of_two_files_both_are_placed_or_neither(tmp_path: Path) -> None:
    first, second = tmp_path / "a.xlsx", tmp_path / "a.html"
    first.write_bytes(b"before")
    second.mkdir()  # nothing can be put in its place
    with pytest.raises(InputError, match="cannot be written"):
        place(first, second)
    assert first.read_bytes() == b"before"
    second.rmdir()
    place(first, second)
    assert (first.read_bytes(), second.read_bytes()) == (b"after", b"after")
    assert {path.name for path in tmp_path.iterdir()} == {"a.xlsx", "a.html"}
