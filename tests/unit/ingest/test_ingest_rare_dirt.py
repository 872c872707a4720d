"""Rare dirt must not decide how the rest of a file is read."""

from __future__ import annotations

from datetime import date, timedelta

from claimlens.ingest.columns import ColumnValues
from claimlens.ingest.date_evidence import DateEvidence
from claimlens.ingest.header_words import match_header
from claimlens.ingest.numbers import DecimalEvidence
from claimlens.ingest.skips import RowJudge


def test_an_impossible_day_does_not_turn_short_years_to_the_front() -> None:
    days = [date(2021, 1, 1) + timedelta(days=3 * step) for step in range(300)]
    evidence = DateEvidence()
    evidence.add([f"{day:%d.%m.%y}" for day in days] + ["31.02.22"])
    assert evidence.reading().candidates == ("dd.mm.yy",)


def test_text_cells_tell_the_decimal_sign_of_a_workbook() -> None:
    cells = ["959.58", "12.5", "77.25", "1.234,50", "1.886"]
    book = DecimalEvidence(from_cells=True)
    book.add(cells)
    text = DecimalEvidence()
    text.add(cells)
    assert book.reading().sign == ","
    assert text.reading().sign == "."


def test_true_numbers_alone_leave_a_workbook_with_the_point() -> None:
    book = DecimalEvidence(from_cells=True)
    book.add(["959.58", "12.5"])
    assert book.reading().sign == "."


def test_one_mistyped_code_does_not_hide_the_currency_column() -> None:
    column = ColumnValues("Dev.")
    column.add(["EUR"] * 180 + ["GBP"] * 118 + ["XQZ"] * 2)
    assert column.profile().currency_share > 0.99


def test_a_closing_line_below_a_first_column_of_words_is_no_row() -> None:
    rows = [["chiuso", f"R-{n}", "2024-01-02", "x"] for n in range(9)]
    rows.append(["in attesa", "R-10", "2024-01-02", "x"])
    judge = RowJudge.learn(
        ["Stato", "Reclamo", "Data", "Nota"],
        key=1,
        required=(1, 2),
        rows=rows,
        preamble=(),
    )
    assert judge.skips(["Fine elenco"])
    assert not judge.skips(["in attesa"])


def test_a_bare_reference_yields_to_a_word_that_names_the_claim() -> None:
    named, bare = (
        next(m.score for m in match_header(word) if m.field == "claim_no")
        for word in ("Folio", "Referencia")
    )
    assert named > bare
