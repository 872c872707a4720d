"""The workbook that goes out: lists, locks, texts that stay texts, equal bytes."""

from __future__ import annotations

import zipfile
from pathlib import Path

import openpyxl
import pytest
from review_desk import HEADER_ROW, Book, ReviewDesk, claims

from claimlens.review.columns import COLUMNS, INPUTS
from claimlens.review.fingerprint import check_word
from claimlens.review.heights import height_of


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> ReviewDesk:
    desk = ReviewDesk(tmp_path_factory.mktemp("workbook"))
    rows = claims()
    rows[4]["narrative"] = "=HYPERLINK(1) display shows nothing"
    rows[5]["claim_no"] = "-2+3"
    rows[6]["model"] = "@Trike"
    rows[7]["narrative"] = "saddle torn\r\nagain\tand\x07again " + "x" * 900
    desk.load("claims.csv", rows)
    return desk


@pytest.fixture(scope="module")
def path(desk: ReviewDesk) -> Path:
    return desk.export(queue=20, audit=40)


@pytest.fixture
def book(path: Path) -> Book:
    return Book(path)


def test_it_has_instructions_the_rows_and_hidden_lists(book: Book) -> None:
    assert book.book.sheetnames == ["instructions", "review", "lists"]
    assert book.book["lists"].sheet_state == "hidden"
    assert list(book.columns) == [column.name for column in COLUMNS]
    assert len(book.rows()) == 40


def test_the_header_is_frozen_and_can_be_filtered(book: Book) -> None:
    assert book.page.freeze_panes == "B3"
    assert book.page.auto_filter.ref == f"A2:S{HEADER_ROW + 40}"


def test_words_are_chosen_from_lists_of_the_taxonomy(
    book: Book, desk: ReviewDesk
) -> None:
    lists = book.book["lists"]
    taxonomy = desk.workspace._terms.taxonomy
    found = {
        str(rule.sqref).split(":")[0][0]: rule.formula1
        for rule in book.page.data_validations.dataValidation
        if rule.type == "list"
    }
    for name, words in (
        ("component", [*taxonomy.components, "cannot tell"]),
        ("failure_mode", list(taxonomy.modes)),
        ("dangerous", ["yes", "no"]),
    ):
        letter = openpyxl.utils.get_column_letter(book.columns[name])
        area = found[letter].removeprefix("lists!").replace("$", "")
        assert [cell.value for (cell,) in lists[area]] == words


def test_a_wrong_word_is_stopped_in_the_cell(book: Book) -> None:
    rules = book.page.data_validations.dataValidation
    assert len(rules) == 4
    assert all(rule.showErrorMessage and rule.errorStyle != "warning" for rule in rules)


def test_only_the_reviewers_cells_are_open(book: Book) -> None:
    assert book.page.protection.sheet
    assert not book.page.protection.password
    assert book.book["lists"].protection.sheet
    for row in (HEADER_ROW + 1, HEADER_ROW + 40):
        open_cells = {
            name for name in book.columns if not book.cell(row, name).protection.locked
        }
        assert open_cells == set(INPUTS)


def test_texts_that_start_like_a_formula_stay_texts(book: Book) -> None:
    row = book.rows()["-2+3"]
    key = book.cell(row, "claim_no")
    assert (key.data_type, key.value, key.quotePrefix) == ("s", "-2+3", True)
    models = [book.cell(row, "model") for row in book.rows().values()]
    odd = [cell for cell in models if cell.value == "@Trike"]
    assert [(cell.data_type, cell.quotePrefix) for cell in odd] == [("s", True)]
    for line in book.page.iter_rows():
        assert all(cell.data_type != "f" for cell in line)


def test_texts_are_cut_and_say_whose_they_are(book: Book) -> None:
    texts = [book.cell(row, "text").value for row in book.rows().values()]
    [long] = [text for text in texts if "again and again" in text]
    assert long.startswith("Owner: saddle torn again and again xxx")
    assert long.endswith(" ..")
    assert len(long) <= len("Owner: ") + 500


def test_each_row_has_its_check_word_and_its_cost_in_its_currency(book: Book) -> None:
    for claim_no, row in book.rows().items():
        sample = book.cell(row, "sample").value
        assert sample == "2026-04-30"
        assert book.cell(row, "check").value == check_word(sample, claim_no)
        assert book.cell(row, "cost").number_format in (
            '#,##0.00 "EUR"',
            '#,##0.00 "CHF"',
        )


def test_the_instructions_warn_tell_how_and_list_the_words(
    book: Book, desk: ReviewDesk
) -> None:
    said = " ".join(
        str(cell.value)
        for line in book.book["instructions"].iter_rows()
        for cell in line
    )
    for words in ("local law", "disconnect and discharge", "packing and carrier rules"):
        assert words in said
    assert "charge socket are connector" in said
    taxonomy = desk.workspace._terms.taxonomy
    for word in (*taxonomy.components, *taxonomy.modes, *INPUTS):
        assert word in said


def test_the_same_sample_gives_the_same_bytes(desk: ReviewDesk, path: Path) -> None:
    again = desk.export("again.xlsx")
    assert again.read_bytes() == path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        assert b"2000-01-01" in archive.read("docProps/core.xml")


def test_check_words_hold_no_digit_and_tell_samples_apart() -> None:
    words = {check_word(f"2026-0{n}-28", "C-1") for n in range(1, 8)}
    assert len(words) == 7
    assert all(word.isalpha() and len(word) == 10 for word in words)


def test_a_row_is_as_high_as_its_longest_text() -> None:
    assert height_of(["short"], [20]) < height_of(["long " * 30], [20])
    assert height_of(["x" * 100_000], [20]) <= 409
