"""Frozen values that cross the rooms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

__all__ = [
    "CellKind",
    "ChartColumn",
    "ChartHtml",
    "ChartTable",
    "Reject",
    "RowAccount",
]


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
    warehouse, seen as a whole, finds implausible, and ``erased`` rows that came in
    under a stand-in because their person's data were erased.
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
    erased: int = 0


CellKind = Literal["text", "count", "share", "number", "money", "yes_no"]


@dataclass(frozen=True, slots=True)
class ChartColumn:
    """One column of the table behind a chart.

    Parameters
    ----------
    title : str
        Heading, unit included.
    kind : str
        How its cells are printed: ``share`` cells lie in 0 to 1.
    bound : str
        ``lower`` and ``upper`` limits are rounded outward.
    """

    title: str
    kind: CellKind
    bound: Literal["", "lower", "upper"] = ""


@dataclass(frozen=True, slots=True)
class ChartTable:
    """The numbers that a chart draws, unformatted, in reading order.

    Parameters
    ----------
    columns : tuple of ChartColumn
        The first column heads the rows.
    rows : tuple of tuple
        One cell a column; None where a figure can't be estimated.
    """

    columns: tuple[ChartColumn, ...]
    rows: tuple[tuple[str | int | float | bool | None, ...], ...]


@dataclass(frozen=True, slots=True)
class ChartHtml:
    """A drawn chart on its way to a page.

    Parameters
    ----------
    svg : str
        The static picture, shown where no script runs.
    spec : str
        The same chart as Vega-Lite JSON, for pages that run scripts.
    summary : str
        What is drawn and how to read it, for those who can't see it.
    table : ChartTable
        The numbers behind it.
    svg_narrow, spec_narrow : str
        The drawing for a phone; empty where the first serves both.
    """

    svg: str
    spec: str
    summary: str
    table: ChartTable
    svg_narrow: str = ""
    spec_narrow: str = ""
