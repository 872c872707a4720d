"""The pack for a supplier: what it asks, what it shows, what it leaves out."""

from __future__ import annotations

import fixture_supplier
import pandas as pd
import pytest

from claimlens.errors import ReportError
from claimlens.redact import Known, Redactor
from claimlens.report.leaks import refuse_leaks, texts_of_page
from claimlens.report.supplier import render_supplier, supplier_view
from claimlens.report.supplier_answers import questions
from claimlens.report.supplier_data import supplier_tables


def test_the_first_screen_says_danger_rate_answers_and_money() -> None:
    points = supplier_view(fixture_supplier.build(), {}).points
    what = [point.what for point in points]
    assert what[0].startswith("1 claim of the last 12 months tells of a danger")
    assert what[1] == (
        "Wiring harness: your part fails 2.1 (1.6–2.7) times as often as that of "
        "other suppliers at the same age."
    )
    assert "1 earlier question is without an answer." in what
    assert what[-1] == "Your share of the cost by agreement is 642\u00a0EUR."
    assert all(point.sure and point.cost and point.act for point in points)


def test_each_question_has_a_number_and_rests_on_a_figure() -> None:
    asked = questions(fixture_supplier.build())
    assert list(asked["question_no"])[:2] == ["Q2026-03-1", "Q2026-03-2"]
    assert asked["finding"].str.len().min() > 10
    assert asked["due_on"].nunique() == 1


def test_nothing_that_stands_out_asks_for_nothing() -> None:
    quiet = fixture_supplier.build()
    empty = {
        name: getattr(quiet, name).iloc[0:0]
        for name in ("against", "windows", "lots", "responses", "statement")
    }
    calm = quiet.claims.assign(safety="no", finding=None)
    view = supplier_view(fixture_supplier.build(claims=calm, **empty), {})
    assert view.points == ()
    assert view.quiet.startswith("Nothing stands out")
    assert questions(fixture_supplier.build(claims=calm, **empty)).empty


def test_the_page_escapes_what_texts_say() -> None:
    hostile = '<script>alert(1)</script> "quoted" & {{ 7 * 7 }}'
    page = render_supplier(
        fixture_supplier.build(claims=fixture_supplier.claims(text=hostile)), {}
    )
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
    assert "49" not in [t for t in texts_of_page(page) if "alert" in t]


def test_a_long_text_is_cut_with_a_mark() -> None:
    page = render_supplier(
        fixture_supplier.build(claims=fixture_supplier.claims(text="dead " * 200_000)),
        {},
    )
    assert len(page) < 300_000
    assert "[…]" in page


def test_the_second_look_refuses_a_page_that_names_somebody() -> None:
    redactor = Redactor(Known(names=("Fahrradhaus Brockmöller",)))
    clean = fixture_supplier.build()
    refuse_leaks(render_supplier(clean, {}), supplier_tables(clean), redactor)
    told = "bought at fahrradhaus  brockmöller"
    named = fixture_supplier.build(claims=fixture_supplier.claims(text=told))
    with pytest.raises(ReportError) as caught:
        refuse_leaks(render_supplier(named, {}), None, redactor)
    assert "Nothing was written" in str(caught.value)
    assert "rockm" not in str(caught.value)
    with pytest.raises(ReportError) as caught:
        refuse_leaks("<p>x</p>", supplier_tables(named), redactor)
    assert "table claims, column narrative" in str(caught.value)


def test_the_tables_keep_every_claim_and_its_share() -> None:
    inputs = fixture_supplier.build()
    sheets = {sheet.id: sheet for sheet in supplier_tables(inputs).sheets}
    frame = sheets["claims"].frame
    assert len(frame) == 40
    assert frame["owed"].notna().sum() == 32
    assert sheets["claims"].kinds["owed"] == "money"
    assert sheets["statement"].frame.iloc[0]["currency"] == "EUR"
    assert "rank" not in sheets["lots"].frame.columns


def test_why_nothing_is_told_of_what_is_to_come_is_said() -> None:
    why = "No claim in sight is under cover, so nothing tells what one will cost."
    inputs = fixture_supplier.build()
    inputs = fixture_supplier.build(to_come=inputs.to_come.iloc[0:0], not_ahead=why)
    costs = [point.cost for point in supplier_view(inputs, {}).points]
    assert any(cost.endswith(f"What is to come is not told: {why}") for cost in costs)
    sheets = {sheet.id: sheet for sheet in supplier_tables(inputs).sheets}
    assert sheets["claims-to-come"].note == why
    told = supplier_view(fixture_supplier.build(), {})
    assert "not told" not in "".join(point.cost for point in told.points)


def test_missing_columns_are_refused() -> None:
    with pytest.raises(ReportError, match="lots lacks"):
        fixture_supplier.build(lots=pd.DataFrame({"component": []}))
