"""What a template gets: texts only, decided and formatted before.

Templates hold no arithmetic and no thresholds; whatever depends on a number
is settled where these values are built.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from claimlens.language import _
from claimlens.report import formats
from claimlens.report.formats import MISSING, RateUnit
from claimlens.results import ChartColumn, ChartHtml, ChartTable

__all__ = [
    "BoxView",
    "ColumnView",
    "DecisionView",
    "EntryView",
    "FigureView",
    "PrintedRow",
    "QuoteView",
    "SectionView",
    "TableView",
    "chart_table",
    "figure",
    "notes_in_caption",
    "number_columns",
    "text_columns",
]

# what so many rows say is said once
_SEVERAL = 3

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
class DecisionView:
    """What asks for a decision, in its four parts.

    Parameters
    ----------
    sign : str
        A shape that goes with the gravity; not read aloud. Empty for none.
    what : str
        One sentence with its figure.
    sure : str
        How sure it is.
    waiting : str
        What waiting costs, or that it is not known.
    who : str
        Who acts, and how.
    where : str
        Anchor of the section that tells more.
    where_text : str
        What stands in the link to it.
    """

    sign: str = ""
    what: str
    sure: str
    waiting: str
    who: str
    where: str
    where_text: str = ""


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


@dataclass(frozen=True, slots=True)
class QuoteView:
    """A text as somebody wrote it.

    Parameters
    ----------
    source : str
        Where it comes from.
    text : str
        In any language; it reads in its own direction.
    """

    source: str
    text: str


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
    quotes : tuple of QuoteView
        Texts below them.
    box : BoxView or None
        At the foot.
    empty : str
        Stands where neither figure nor table has anything to show.
    fold : str
        One sentence that stands for the section while it is folded away on a
        screen; empty where the section has news and stays open. Paper shows
        every section open.
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
    quotes: tuple[QuoteView, ...] = ()
    box: BoxView | None = None
    empty: str = ""
    fold: str = ""


def text_columns(*titles: str) -> tuple[ColumnView, ...]:
    """Return headings of columns of words."""
    return tuple(ColumnView(_(title)) for title in titles)


def number_columns(*titles: str) -> tuple[ColumnView, ...]:
    """Return headings of columns of figures."""
    return tuple(ColumnView(_(title), numeric=True) for title in titles)


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
    return notes_in_caption(
        TableView(
            id=id,
            caption=f"{caption}; shares in {unit.name}" if has_shares else caption,
            columns=tuple(
                ColumnView(
                    _(column.title), numeric=column.kind not in ("text", "yes_no")
                )
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
    )


def notes_in_caption(view: TableView) -> TableView:
    """Say in the caption what the last column, the note, says in every row.

    Parameters
    ----------
    view : TableView
        A table whose last column is headed ``note`` and holds remarks with
        semicolons between them; any other comes back as it is.
    """
    notes = [row[-1] for row in view.rows]
    if len(notes) < _SEVERAL or view.columns[-1].title != "note":
        return view
    parts = [[part for part in note.split("; ") if part] for note in notes]
    every = [part for part in parts[0] if all(part in own for own in parts)]
    if every == [MISSING]:
        every = []
    left = ["; ".join(p for p in own if p not in every) for own in parts]
    has_notes = any(note not in ("", MISSING) for note in left)
    caption = f"{view.caption}; in every row: {'; '.join(every)}"
    rows = (
        (*row[:-1], note) if has_notes else row[:-1]
        for row, note in zip(view.rows, left, strict=True)
    )
    return replace(
        view,
        caption=caption if every else view.caption,
        columns=view.columns if has_notes else view.columns[:-1],
        rows=tuple(rows),
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
