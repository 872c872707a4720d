"""Frozen values that cross the rooms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

__all__ = ["NotEstimable", "Reject", "RowAccount"]


@dataclass(frozen=True, slots=True)
class NotEstimable:
    """A figure that the data cannot give, with the reason in words."""

    reason: str


@dataclass(frozen=True, slots=True)
class Reject:
    """One rejected row of a file.

    Parameters
    ----------
    row : int
        Line of a text file (header included), row of a sheet, element of a
        JSON array, row of a Parquet file; counted from 1.
    column_name : str or None
        Canonical field or header at fault; None for the row as a whole.
    value : str or None
        The text that was read.
    reason : str
        Why it cannot be a row.
    """

    row: int
    column_name: str | None
    value: str | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RowAccount:
    """What became of every row of one file.

    ``rows_read`` equals the sum of ``inserted``, ``updated``, ``unchanged``,
    ``superseded`` and ``rejected``; ``flagged`` counts accepted rows that the
    warehouse, seen as a whole, finds implausible.
    """

    file: str
    kind: str
    rows_read: int
    inserted: int
    updated: int
    unchanged: int
    superseded: int
    rejected: int
    flagged: int
    skipped_lines: int
    batch: int | None
    known_on: date | None = None
    note: str = ""
