"""What a template gets: texts only, decided and formatted before.

Templates hold no arithmetic and no thresholds; whatever depends on a number
is settled where these values are built.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from claimlens.report import formats
from claimlens.report.formats import MISSING, RateUnit
from claimlens.results import ChartColumn, ChartHtml, ChartTable

__all__ = [
    "BoxView",
    "ColumnView",
    "EntryView",
    "FigureView",
    "PrintedRow",
    "SectionView",
    "TableView",
    "chart_table",
    "figure",
    "number_columns",
    "text_columns",
]

#: Cells of one row, printed.
PrintedRow = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ColumnView:
    """A heading; figures are set to the right."""

    title: str
    numeric: bool = False


@dataclass(frozen=True, slots=True)
class TableView:
    """A table with its caption; the first cell of a row heads it.

    Parameters
    ----------
    id : str
        Unique on the page.
    caption : str
        What the rows are, the unit of the rates included.
    columns : tuple of ColumnView
        The headings.
    rows : tuple of tuple of str
        Printed cells, one a column.
    total : tuple of str
        A last row that sums; empty for none.
    """

    id: str
    caption: str
    columns: tuple[ColumnView, ...]
    rows: tuple[PrintedRow, ...]
    total: PrintedRow = ()


@dataclass(frozen=True, slots=True)
class FigureView:
    """A chart with its text summary and the table behind it.

    Parameters
    ----------
    id : str
        Unique on the page.
    label : str
        What is drawn, for those who can't see it.
    findings : tuple of str
        What the chart shows, in sentences with numbers.
    chart : ChartHtml
        Both drawings.
    table : TableView
        The numbers.
    """

    id: str
    label: str
    findings: tuple[str, ...]
    chart: ChartHtml
    table: TableView


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryView:
    """One item of a list: a heading with a shape, and what is said of it.

    Parameters
    ----------
    sign : str
        A shape that repeats a word of the heading; not read aloud.
    heading : str
        What it is about.
    lines : tuple of str
        Sentences.
    """

    sign: str
    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxView:
    """What must be kept in mind beside a section.

    Parameters
    ----------
    id, heading : str
        Anchor and heading.
    lines : tuple of str
        Sentences.
    table : TableView or None
        What they rest on.
    """

    id: str
    heading: str
    lines: tuple[str, ...]
    table: TableView | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionView:
    """One section of the page.

    Parameters
    ----------
    id, heading : str
        Anchor and heading.
    basis : str
        Population, period and cut-off.
    banner : str
        What must not be overlooked; empty for nothing.
    lead : tuple of str
        The findings, where they stand above everything else.
    listing : TableView or None
        A table above the figure.
    entries : tuple of EntryView
        What is said of the rows of the listing.
    reading : tuple of str
        How to read it; for a figure its label says it.
    figure : FigureView or None
        None where there is nothing to draw.
    tables : tuple of TableView
        Further tables.
    box : BoxView or None
        At the foot.
    empty : str
        Stands where neither figure nor table has anything to show.
    """

    id: str
    heading: str
    basis: str
    banner: str = ""
    lead: tuple[str, ...] = ()
    listing: TableView | None = None
    entries: tuple[EntryView, ...] = ()
    reading: tuple[str, ...] = ()
    figure: FigureView | None = None
    tables: tuple[TableView, ...] = ()
    box: BoxView | None = None
    empty: str = ""


def text_columns(*titles: str) -> tuple[ColumnView, ...]:
    """Return headings of columns of words."""
    return tuple(ColumnView(title) for title in titles)


def number_columns(*titles: str) -> tuple[ColumnView, ...]:
    """Return headings of columns of figures."""
    return tuple(ColumnView(title, numeric=True) for title in titles)


def chart_table(table: ChartTable, *, id: str, caption: str) -> TableView:
    """Print the table behind a chart, all its shares in one unit.

    Parameters
    ----------
    table : ChartTable
        Raw cells.
    id, caption : str
        Anchor and caption; the unit of the shares is added to the caption.
    """
    places = [
        place
        for place, column in enumerate(table.columns)
        if column.kind == "share" and not column.bound
    ]
    unit = formats.rate_unit(
        cell
        for row in table.rows
        for cell in (row[place] for place in places)
        if isinstance(cell, float)
    )
    has_shares = any(column.kind == "share" for column in table.columns)
    return TableView(
        id=id,
        caption=f"{caption}; shares in {unit.name}" if has_shares else caption,
        columns=tuple(
            ColumnView(column.title, numeric=column.kind not in ("text", "yes_no"))
            for column in table.columns
        ),
        rows=tuple(
            tuple(
                _print(cell, column, unit)
                for cell, column in zip(row, table.columns, strict=True)
            )
            for row in table.rows
        ),
    )


def _print(
    cell: str | int | float | bool | None, column: ChartColumn, unit: RateUnit
) -> str:
    """Print one cell by the kind of its column."""
    if cell is None:
        return MISSING
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    printers = {
        "share": lambda: formats.rate(cell, unit, column.bound),
        "count": lambda: formats.count(cell),
        "money": lambda: formats.amount(cell),
    }
    print_it = printers.get(column.kind)
    return print_it() if print_it else formats.decimal_text(cell, 1, column.bound)


def figure(
    charts: Mapping[str, ChartHtml],
    name: str,
    *,
    caption: str,
    findings: Sequence[str] = (),
) -> FigureView | None:
    """Return the figure of that name, or None where no chart was handed over."""
    chart = charts.get(name)
    if chart is None:
        return None
    return FigureView(
        id=f"{name}-figure",
        label=chart.summary,
        findings=tuple(findings),
        chart=chart,
        table=chart_table(chart.table, id=f"{name}-table", caption=caption),
    )
