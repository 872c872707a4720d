"""Questions to suppliers and their money, for the monthly report."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pandas as pd

from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.monthly_inputs import (
    SupplierAnswers,
    SupplierMoney,
    SupplierQuestions,
)

__all__ = ["supplier_answers"]

_E4 = Decimal("0.0001")
_MONEY = ("charged", "accepted", "received")


def supplier_answers(session: Session, scope: Scope) -> SupplierAnswers:
    """Count what suppliers were asked and answered by the cut-off.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    SupplierAnswers
        Empty where no list of responses is loaded.
    """
    frame = session.frame("marts/responses", {"as_of": scope.as_of})
    questions = [
        _questions(str(supplier), own, scope.as_of)
        for supplier, own in frame.groupby("supplier", sort=True)
    ]
    has_money = frame[[f"{name}_e4" for name in _MONEY]].notna().any(axis=1)
    return SupplierAnswers(
        questions=tuple(sorted(questions, key=lambda each: -each.overdue)),
        money=tuple(
            SupplierMoney(
                supplier=str(supplier),
                currency=str(currency),
                **{name: _sum(own[f"{name}_e4"]) for name in _MONEY},
            )
            for (supplier, currency), own in frame[has_money].groupby(
                ["supplier", "currency"], sort=True
            )
        ),
    )


def _questions(supplier: str, own: pd.DataFrame, as_of: date) -> SupplierQuestions:
    is_open = own["answered_on"].isna()
    overdue = own[is_open & (own["due_on"] < pd.Timestamp(as_of))]
    return SupplierQuestions(
        supplier=supplier,
        asked=len(own),
        answered=int((~is_open).sum()),
        answered_late=int((own["answered_on"] > own["due_on"]).sum()),
        overdue=len(overdue),
        oldest_due=overdue["due_on"].min().date() if len(overdue) else None,
    )


def _sum(values: pd.Series) -> Decimal:
    return sum((int(value) for value in values.dropna()), 0) * _E4
