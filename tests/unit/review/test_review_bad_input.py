"""Workbooks that are not right: every fault told with its cell, nothing applied."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import duckdb
import openpyxl
import pytest
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from review_desk import Book, ReviewDesk, claims

from claimlens.errors import InputError, SourceError
from claimlens.review.fingerprint import check_word

Spoil = Callable[[Book, int], None]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    desk = ReviewDesk(tmp_path_factory.mktemp("made") / "ws")
    desk.load("claims.csv", claims(12))
    desk.export()
    return desk.folder


@pytest.fixture
def desk(made: Path, tmp_path: Path) -> ReviewDesk:
    folder = shutil.copytree(made, tmp_path / "ws")
    return ReviewDesk(folder)


def refused(desk: ReviewDesk, path: Path, **options: str) -> str:
    """Return the message, and prove that nothing was applied."""
    before = desk.bytes()
    with pytest.raises(SourceError) as caught:
        desk.workspace.review_apply(path, **options)  # type: ignore[arg-type]
    assert desk.bytes() == before
    assert desk.query("select count(*) from labels_now") == [(0,)]
    assert caught.value.source == str(path)
    assert caught.value.remedy
    return str(caught.value)


def put(name: str, value: object) -> Spoil:
    def spoil(book: Book, row: int) -> None:
        book.cell(row, name).value = value

    return spoil


def day_as_number(book: Book, row: int) -> None:
    book.cell(row, "reviewed_on").value = 46146
    book.cell(row, "reviewed_on").number_format = "General"


def other_sample(book: Book, row: int) -> None:
    book.cell(row, "sample").value = "2026-03-31"


def deleted_claim(book: Book, row: int) -> None:
    book.cell(row, "claim_no").value = "C-999"
    book.cell(row, "check").value = check_word("2026-04-30", "C-999")


def answered_twice(book: Book, row: int) -> None:
    for name in ("claim_no", "sample", "check"):
        book.cell(row + 1, name).value = book.cell(row, name).value
    book.answer(row + 1, "frame")


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (
            put("component", "batery pack"),
            "L3: 'batery pack' is no component; the nearest is 'battery pack'",
        ),
        (put("component", "xyzzy"), "allowed are battery pack, charger"),
        (
            put("failure_mode", "leeking"),
            "M3: 'leeking' is no failure mode; the nearest is 'leaking'",
        ),
        (put("dangerous", "perhaps"), "N3: 'perhaps' is neither yes nor no"),
        (put("reviewer", None), "O3: the reviewer is missing"),
        (put("reviewed_on", None), "P3: the day of the answer is missing"),
        (
            put("reviewed_on", "05/04/2026"),
            "P3: '05/04/2026' is not a date that leaves no doubt",
        ),
        (put("reviewed_on", "yesterday"), "P3: 'yesterday' is not a date"),
        (day_as_number, "P3: '46146' is not a date"),
        (
            put("reviewed_on", date(2025, 5, 4)),
            "P3: the answer is of 2025-05-04, before the claim was reported on 2026-",
        ),
        (put("claim_no", "C-009x"), "and says 'C-009x'; put 'C-0"),
        (put("claim_no", None), "A3: is empty, but the row holds an answer"),
        (put("check", "bcdfghjkmn"), "A3: the check word of claim 'C-0"),
        (put("check", None), "was changed; if the row is that of this claim, put '"),
        (other_sample, "sample '2026-03-31' and check '"),
        (
            deleted_claim,
            "A3: there is no claim 'C-999' in the warehouse: it was deleted since",
        ),
        (answered_twice, "is answered by Ann in row 3 already"),
        (put("component", '="motor"'), "L3: holds a formula in component"),
        (put("claim_no", '="C-001"'), "A3: holds a formula; put the key back"),
        (put("component", None), "L3: is empty, but failure_mode says 'worn'"),
    ],
)
def test_a_wrong_cell_is_told_with_its_place(
    desk: ReviewDesk, spoil: Spoil, said: str
) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.answer(3, "motor", failure_mode="worn")
    spoil(book, 3)
    message = refused(desk, book.save())
    assert "The workbook has 1 fault; nothing was applied." in message
    assert "sheet review, row" in message
    assert said in message


def test_cannot_tell_goes_without_a_mode(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.answer(3, "cannot tell", failure_mode="worn")
    assert "'worn' does not go with 'cannot tell'" in refused(desk, book.save())


def test_all_faults_are_told_at_once_and_good_rows_wait(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.answer(3)
    book.answer(4, "moter")
    book.answer(5, reviewer=None)
    book.answer(6, "frame", failure_mode="wornn", reviewed_on="soon")
    message = refused(desk, book.save())
    assert "has 4 faults" in message
    for cell in ("L4", "O5", "M6", "P6"):
        assert f"cell {cell}: " in message


def test_merged_cells_among_the_answers_are_refused(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.answer(3)
    book.page.merge_cells("L3:L5")
    assert "the cells L3:L5 are merged" in refused(desk, book.save())


def test_a_workbook_saved_as_csv_is_refused(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    path = desk.folder / "review.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerows(book.page.iter_rows(values_only=True))
    message = refused(desk, path)
    assert "holds delimited text (CSV), not a workbook" in message
    assert "save it as .xlsx" in message
    renamed = path.rename(desk.folder / "renamed.xlsx")
    assert "delimited text (CSV)" in refused(desk, renamed)


def test_a_missing_sheet_is_refused_with_those_that_are_there(
    desk: ReviewDesk,
) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.page.title = "review2"
    message = refused(desk, book.save())
    assert "no sheet 'review'; it has 'instructions', 'review2', 'lists'" in message


def test_missing_and_doubled_columns_are_refused(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.page["M2"].value = "failure mode"
    book.page["O2"].value = "component"
    message = refused(desk, book.save())
    assert "the column failure_mode is missing" in message
    assert "cell M2 says 'failure mode'" in message
    assert "the column reviewer is missing" in message
    assert "2 columns are called component: sheet review, L2, O2" in message


def test_without_headers_nothing_is_guessed(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.page.delete_rows(1, 2)
    assert "no row with the headers claim_no and component" in refused(
        desk, book.save()
    )


def test_columns_are_found_wherever_they_were_moved(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    book.answer(3)
    book.page.insert_cols(2)
    book.page.insert_rows(1, 3)
    applied = desk.workspace.review_apply(book.save())
    assert applied.inserted == 1


def test_other_kinds_of_workbook_are_refused(desk: ReviewDesk) -> None:
    opened = desk.folder / "review.ods"
    OpenDocumentSpreadsheet().save(str(opened))
    older = desk.folder / "review.xls"
    book = xlwt.Workbook()
    book.add_sheet("review")
    book.save(str(older))
    for path in (opened, older):
        assert "not in the form .xlsx" in refused(desk, path)


def test_a_damaged_workbook_is_refused(desk: ReviewDesk) -> None:
    whole = (desk.folder / "review.xlsx").read_bytes()
    path = desk.folder / "half.xlsx"
    path.write_bytes(whole[: len(whole) // 2])
    message = refused(desk, path)
    assert "to do:" in message


def test_a_file_that_is_not_there_is_told(desk: ReviewDesk) -> None:
    assert "does not exist" in refused(desk, desk.folder / "none.xlsx")


def test_a_day_of_the_options_that_is_none_is_refused(desk: ReviewDesk) -> None:
    with pytest.raises(InputError, match="'soon' is not a date"):
        desk.workspace.review_apply(desk.folder / "review.xlsx", reviewed_on="soon")


def test_a_foreign_workbook_is_refused(desk: ReviewDesk) -> None:
    path = desk.folder / "other.xlsx"
    openpyxl.Workbook().save(path)
    assert "no sheet 'review'; it has 'Sheet'" in refused(desk, path)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"queue": 5}, "was drawn with --queue 60; got --queue 5"),
        ({"again": 2, "queue": 2}, "a workbook of its own"),
        ({"again": 3}, "No claim has been reviewed by exactly one person"),
        ({"again": 0}, "second review of no claims"),
        ({"audit": -3}, "--audit must lie from 0 to 100,000; got -3"),
        ({"as_of": "2019-12-31"}, "lies before the first claim"),
    ],
)
def test_an_export_that_does_not_go_leaves_nothing(
    desk: ReviewDesk, options: dict[str, object], said: str
) -> None:
    before = desk.bytes()
    with pytest.raises(InputError, match=said):
        desk.export("new.xlsx", **options)
    assert desk.bytes() == before
    assert not list(desk.folder.glob("*new.xlsx*"))


def test_an_export_never_replaces_a_file_unasked(desk: ReviewDesk) -> None:
    with pytest.raises(InputError, match="there already"):
        desk.export()
    assert desk.export(overwrite=True).exists()


def test_an_export_is_a_workbook_by_its_name(desk: ReviewDesk) -> None:
    with pytest.raises(InputError, match="ends in"):
        desk.export("new.csv")


def test_a_sample_can_be_drawn_anew_until_answers_come_back(desk: ReviewDesk) -> None:
    book = Book(desk.export("small.xlsx", queue=2, audit=3, redraw=True))
    assert len(book.rows()) == 5
    book.answer(3)
    desk.workspace.review_apply(book.save())
    with pytest.raises(InputError, match="1 of its 5 claims has been reviewed"):
        desk.export("new.xlsx", queue=3, redraw=True)


def test_nothing_left_to_review_is_told(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    for row in book.rows().values():
        book.answer(row)
    desk.workspace.review_apply(book.save())
    with pytest.raises(InputError, match="Every claim reported by 2026-05-31"):
        desk.export("new.xlsx", as_of="2026-05-31")


def test_without_a_warehouse_nothing_is_handed_out(tmp_path: Path) -> None:
    desk = ReviewDesk(tmp_path / "empty")
    with pytest.raises(InputError, match="There is no claim"):
        desk.export()
    assert not list(desk.folder.glob("*.xlsx*"))


def test_a_claim_that_was_deleted_since_is_told_and_left_out(desk: ReviewDesk) -> None:
    book = Book(desk.folder / "review.xlsx")
    for row in book.rows().values():
        book.answer(row)
    gone = next(iter(book.rows()))
    with duckdb.connect(str(desk.workspace.warehouse)) as connection:
        connection.execute("delete from claims_current where claim_no = ?", [gone])
    message = refused(desk, book.save())
    assert "The workbook has 1 fault" in message
    assert f"there is no claim {gone!r} in the warehouse: it was deleted" in message
    told = desk.workspace.review_export(desk.folder / "later.xlsx", as_of="2026-04-30")
    assert "1 claim of the sample left out: no longer in the warehouse" in told.text()
    assert gone not in Book(desk.folder / "later.xlsx").rows()
