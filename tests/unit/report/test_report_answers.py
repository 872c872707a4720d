"""What the month says of suppliers' answers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import fixture_monthly

from claimlens.monthly_inputs import (
    MonthlyInputs,
    SupplierAnswers,
    SupplierMoney,
    SupplierQuestions,
)
from claimlens.report.decisions import decisions
from claimlens.report.folding import folded
from claimlens.report.monthly_data import monthly_sheets
from claimlens.report.monthly_sections import sections
from claimlens.report.supplier_answers_section import answers_section


def told(*, overdue: int = 2) -> MonthlyInputs:
    late = SupplierQuestions(
        supplier="Quillfer", asked=5, answered=5 - overdue, answered_late=1,
        overdue=overdue, oldest_due=date(2026, 3, 13) if overdue else None,
    )  # fmt: skip
    money = SupplierMoney(
        supplier="Quillfer", currency="EUR", charged=Decimal("1800.00"),
        accepted=Decimal("900.50"), received=Decimal("100.25"),
    )  # fmt: skip
    answers = SupplierAnswers(questions=(late,), money=(money,))
    return replace(fixture_monthly.build(), answers=answers)


def test_overdue_answers_ask_for_a_decision_with_what_is_owed() -> None:
    both = decisions(told())
    [one] = [d for d in (*both.now, *both.later) if d.where == "supplier-answers"]
    assert one.what == "2 answers of suppliers are overdue: Quillfer."
    assert "13\u00a0March\u00a02026" in one.sure
    assert one.waiting.startswith("800\u00a0EUR accepted and not received")
    assert one.who.startswith("Purchasing:")


def test_nothing_overdue_asks_for_nothing_and_folds() -> None:
    inputs = told(overdue=0)
    both = decisions(inputs)
    assert all(d.where != "supplier-answers" for d in (*both.now, *both.later))
    [one] = [
        s for s in folded(inputs, sections(inputs, {})) if s.id == "supplier-answers"
    ]
    assert one.fold.startswith("No news. 5 of 5 questions are answered")


def test_the_section_prints_money_to_the_cent() -> None:
    section = answers_section(told())
    assert section.lead == (
        "3 of 5 questions are answered, 1 of them after they were due; 2 are overdue.",
    )
    money = section.tables[1]
    assert money.rows == (
        ("Quillfer", "EUR", "1,800.00", "900.50", "100.25", "899.50", "800.25"),
    )


def test_without_a_list_of_responses_there_is_no_section() -> None:
    inputs = fixture_monthly.build()
    assert all(s.id != "supplier-answers" for s in sections(inputs, {}))


def test_the_tables_carry_the_same_figures() -> None:
    sheets = {sheet.id: sheet for sheet in monthly_sheets(told())}
    row = sheets["supplier-answers"].frame.iloc[0]
    assert (row["asked"], row["overdue"]) == (5, 2)
    assert sheets["supplier-money"].frame.iloc[0]["accepted"] == Decimal("900.50")
