"""What the monthly report says of money and parts that are still to come."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.monthly_inputs.frames import (
    RESERVE_COLUMNS,
    SPARES_COLUMNS,
    settle,
)

__all__ = ["RESERVE_PARTS", "RESERVE_TOTAL", "Reserve", "SpareParts"]

#: Parts of the reserve in their order, with the letters of the page.
RESERVE_PARTS = {
    "reported and open": "(a) reported and open",
    "failed, not yet reported": "(b) failed, not yet reported",
    "to fail under cover": "(c) to fail under cover",
    "shipped, not yet sold": "(d) shipped, not yet sold",
}

#: The part that is the sum of the others.
RESERVE_TOTAL = "total"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserve:
    """What the units in the field still cost under cover.

    Parameters
    ----------
    not_told : str
        Why nothing is told, as a sentence; else empty.
    taken_for_granted : tuple of str
        What the amounts rest on.
    reserve_years : DataFrame
        One row a model year, part of the reserve (``total`` is their sum) and
        currency: expected ``claims``, ``amount`` and its limits.
    reserve_all : DataFrame
        The same of all model years together.

    Raises
    ------
    ReportError
        If a frame lacks a column.
    """

    not_told: str
    taken_for_granted: tuple[str, ...]
    reserve_years: pd.DataFrame
    reserve_all: pd.DataFrame

    def __post_init__(self) -> None:
        """Check the columns of every frame and settle their types."""
        settle(self, RESERVE_COLUMNS)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareParts:
    """Spare parts to have ready.

    Parameters
    ----------
    not_told : str
        Why nothing is told, as a sentence; else empty.
    service_level : float
        Chance that what is held lasts until the next delivery, 0 to 1.
    review_months : float
        Months between orders.
    spare_parts : DataFrame
        One row a part, most demand first: columns of ``spares``.

    Raises
    ------
    ReportError
        If the frame lacks a column.
    """

    not_told: str
    service_level: float
    review_months: float
    spare_parts: pd.DataFrame

    def __post_init__(self) -> None:
        """Check the columns of the frame and settle their types."""
        settle(self, SPARES_COLUMNS)
