"""Small multiples: frames made ready to draw, and panels set in rows."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import numpy as np
import pandas as pd

from claimlens.charts.theme import Layout

__all__ = [
    "Panel",
    "axis_top",
    "domain_of_months",
    "layered",
    "month_labels",
    "month_text",
    "panel_title",
    "rounded",
    "set_in_rows",
    "state_of",
]

#: One small multiple.
Panel = alt.Chart | alt.LayerChart

# significant digits that a picture can show; more only make the page heavy
_DIGITS = 6


def rounded(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with its floats cut to six significant digits."""
    result = frame.copy()
    for column in result.columns:
        if pd.api.types.is_float_dtype(result[column]):
            values = result[column].to_numpy(dtype=float, na_value=np.nan)
            result[column] = [
                None if np.isnan(value) else float(f"{value:.{_DIGITS}g}")
                for value in values
            ]
            result[column] = result[column].astype(float)
    return result


def month_text(values: pd.Series) -> pd.Series:
    """Write dates as ``2026-03``; as text no reader's time zone shifts them."""
    return pd.to_datetime(values).dt.strftime("%Y-%m")


def domain_of_months(months: pd.Series) -> list[str]:
    """Return every month from the first to the last, gaps included."""
    if months.empty:
        return []
    whole = pd.period_range(months.min(), months.max(), freq="M")
    return [str(month) for month in whole]


def month_labels(domain: Sequence[str], *, room: int) -> list[str]:
    """Choose the months that get a label.

    Parameters
    ----------
    domain : sequence of str
        Every month on the axis.
    room : int
        How many labels fit.

    Returns
    -------
    list of str
        All, each third, sixth or twelfth month, or each fifth year; January
        is always among them, so that the axis shows where a year begins.
    """
    for step in (1, 3, 6, 12, 24, 60):
        chosen = [
            month
            for month in domain
            if (int(month[:4]) * 12 + int(month[5:]) - 1) % step == 0
        ]
        if len(chosen) <= room:
            return chosen
    return list(domain[:1])


def axis_top(values: pd.Series, *, floor: float) -> float:
    """Return an axis end a little above the largest value, at least ``floor``."""
    known = values.dropna()
    top = float(known.max()) if len(known) else 0.0
    return max(top * 1.06, floor)


def state_of(mature: pd.Series) -> pd.Series:
    """Turn the maturity flag into the word that a legend shows."""
    return mature.astype(bool).map({True: "mature", False: "too young to trust"})


def panel_title(text: str, subtitle: str = "") -> alt.TitleParams:
    """Return the heading of one panel: what it shows, and on how many."""
    if subtitle:
        return alt.TitleParams(text=text, subtitle=subtitle)
    return alt.TitleParams(text=text)


def layered(
    layers: Sequence[alt.Chart],
    *,
    width: float,
    height: float,
    title: alt.TitleParams | None = None,
    description: str = "",
) -> alt.LayerChart:
    """Lay charts over each other in one plot of that size, in pixels."""
    return alt.LayerChart(
        layer=list(layers),
        width=width,
        height=height,
        title=title or alt.Undefined,
        description=description or alt.Undefined,
    )


def set_in_rows(
    panels: Sequence[Panel],
    *,
    layout: Layout,
    description: str,
    columns: int | None = None,
    row_gap: int = 88,
    column_gap: int = 66,
) -> alt.ConcatChart:
    """Set panels in rows of equal width.

    Parameters
    ----------
    panels : sequence of Panel
        At least one.
    layout : Layout
        Gives the panels a row.
    description : str
        What the whole shows.
    columns : int, optional
        Panels a row, where it differs from the layout's.
    row_gap, column_gap : int
        Pixels between the plots themselves, in which axes and headings stand:
        so plots line up whatever their labels are.
    """
    return alt.concat(
        *panels,
        columns=columns or layout.panels,
        spacing={"row": row_gap, "column": column_gap},
        align="each",
        bounds="flush",
        description=description,
    )
