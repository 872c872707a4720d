"""What the monthly report says of questions to suppliers, and of their money."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

__all__ = ["SupplierAnswers", "SupplierMoney", "SupplierQuestions"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierQuestions:
    """How many questions one supplier was asked by the cut-off, and answered.

    Parameters
    ----------
    supplier : str
        His name.
    asked, answered, answered_late, overdue : int
        Questions; those with an answer; those of them answered after they were
        due; those without an answer that are past due.
    oldest_due : date or None
        When the oldest of the overdue ones was due.
    """

    supplier: str
    asked: int
    answered: int
    answered_late: int
    overdue: int
    oldest_due: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierMoney:
    """What one supplier was charged, accepted and paid in one currency.

    Parameters
    ----------
    supplier, currency : str
        His name, and an ISO 4217 code; empty where none is told.
    charged, accepted, received : Decimal
        Sums of all his questions by the cut-off.
    """

    supplier: str
    currency: str
    charged: Decimal
    accepted: Decimal
    received: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierAnswers:
    """What suppliers were asked by the cut-off, and what became of it.

    Parameters
    ----------
    questions : tuple of SupplierQuestions
        Most overdue first, then by name.
    money : tuple of SupplierMoney
        By name and currency.
    """

    questions: tuple[SupplierQuestions, ...] = field(default=())
    money: tuple[SupplierMoney, ...] = field(default=())

    @property
    def overdue(self) -> int:
        """Return how many questions are past due without an answer."""
        return sum(each.overdue for each in self.questions)
