"""What the monthly report says of claims that somebody still waits for."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.monthly_inputs.frames import OPEN_COLUMNS, settle

__all__ = ["WAITS", "OpenClaims"]

#: What a claim can wait for, in the order of its life.
WAITS = ("decision", "part", "repair", "part back")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenClaims:
    """Claims that are not done with at the cut-off, and what was decided.

    Parameters
    ----------
    waiting : DataFrame
        One row a wait of ``WAITS``, age in ``days`` and currency: ``claims``, those
        of a vehicle ``off_road``, those with an amount ``requested_claims``, and
        their sum ``requested``. Days count from the report; of parts to come back
        from the closing.
    decided : DataFrame
        One row a ``span`` (``month``, ``year``: the twelve months up to the cut-off)
        and currency: claims ``decided``, those that tell both amounts (``told``),
        ``denied`` and ``cut`` ones, and what was ``requested`` and ``approved`` in
        the told ones.
    return_days : int
        So long after closing a part is waited for.
    closed, inspected : int
        Claims closed with a part between that many and 365 days ago, and those of
        them with an inspection.
    off_road_column : str
        The column of the export that says whether a vehicle is off the road; empty
        where it is guessed.

    Raises
    ------
    ReportError
        If a frame lacks a column.
    """

    waiting: pd.DataFrame
    decided: pd.DataFrame
    return_days: int
    closed: int
    inspected: int
    off_road_column: str

    def __post_init__(self) -> None:
        """Check the columns of every frame and settle their types."""
        settle(self, OPEN_COLUMNS)
