"""Claims by month of failure: reported so far, and still to come."""

from __future__ import annotations

from collections.abc import Iterable

import altair as alt
import numpy as np
import pandas as pd

from claimlens.charts import theme
from claimlens.charts.panels import layered, month_text, rounded
from claimlens.charts.theme import Layout
from claimlens.charts.volume import month_axis

__all__ = ["claims_by_failure_month"]

_HEIGHT = 210
_ROOM = 16  # pixels above the highest limit, where the shares stand
# pixels from one stripe to the next, and of one line
_STRIPE, _LINE = 5.0, 1.6
_KEY = (
    "Full: reported so far. Striped: still to come, with its interval.",
    "Line across a bar: as first shown. Per cent: share reported so far.",
)
_KEY_NARROW = (
    "Full: reported so far. Striped: still to",
    "come, with its interval. Line across a bar:",
    "as first shown. Figure: per cent reported.",
)


def claims_by_failure_month(frame: pd.DataFrame, *, layout: Layout) -> alt.LayerChart:
    """Draw the claims inside the cover of each month of failure.

    Parameters
    ----------
    frame : DataFrame
        Rows of ``lag``, oldest first: ``month``, ``claims``, ``share_reported``,
        ``completed``, ``lower``, ``upper``, ``first_shown``.
    layout : Layout
        Width of the drawing.

    Returns
    -------
    LayerChart
        Full bars for what is reported, striped up to what is expected finally,
        a whisker for its limits, and a line across the bar for the figure that was
        shown first. Where nothing tells how late reports come, the bars
        stand alone.
    """
    data = _worded(frame)
    most = max(float(data[["claims", "completed", "upper"]].max().max()), 4.0)
    top = most * _HEIGHT / (_HEIGHT - _ROOM)
    line = _LINE * top / _HEIGHT
    x = month_axis(data["month"], "month of failure", layout)
    scale = alt.Scale(domain=[0, top], nice=False)
    late = data[data["upper"] > data["claims"]]
    shown = data[(data["first_shown"] > 0) & (data["first_shown"] < data["claims"])]
    layers = [_reported(data, x, scale)]
    if len(late):
        layers += [
            _to_come(late, x, scale),
            _lines(_stripes(late, top), line, theme.MARK, x, scale),
            _whisker(late, x, scale),
            *(_whisker_ends(late, end, x, scale) for end in ("lower", "upper")),
            _shares(late, x, scale, layout),
        ]
    if len(shown):
        points = zip(shown["month"], shown["first_shown"], strict=True)
        layers.append(_lines(points, 1.4 * line, theme.PAPER, x, scale))
    return layered(
        layers,
        width=layout.width,
        height=_HEIGHT,
        title=alt.TitleParams(
            text=list(_KEY_NARROW if layout.is_narrow else _KEY),
            fontSize=11.5,
            fontWeight="normal",
            color=theme.QUIET,
            lineHeight=15,
        ),
        description=(
            "Bars: claims inside the cover by month of failure, reported and to come."
        ),
    )


def _worded(frame: pd.DataFrame) -> pd.DataFrame:
    """Add what is written beside a bar or told at a pointer."""
    data = rounded(frame).assign(month=month_text(frame["month"]))
    data["percent"] = [
        "" if pd.isna(share) else f"{100 * share:.0f}\N{NO-BREAK SPACE}%"
        for share in frame["share_reported"]
    ]
    data["expected"] = [
        "can't be told yet"
        if pd.isna(most)
        else f"{mean:,.0f} ({least:,.0f}–{most:,.0f})"
        for mean, least, most in zip(
            frame["completed"], frame["lower"], frame["upper"], strict=True
        )
    ]
    data["first"] = [
        "not looked up" if pd.isna(first) else f"{first:,.0f}"
        for first in frame["first_shown"]
    ]
    return data


def _y(column: str, scale: alt.Scale) -> alt.Y:
    return alt.Y(
        f"{column}:Q",
        title="claims inside the cover",
        axis=alt.Axis(tickMinStep=1),
        scale=scale,
    )


def _tooltip() -> list[alt.Tooltip]:
    return [
        alt.Tooltip("month:N", title="month of failure"),
        alt.Tooltip("claims:Q", title="claims so far", format=","),
        alt.Tooltip("percent:N", title="share reported"),
        alt.Tooltip("expected:N", title="expected finally"),
        alt.Tooltip("first:N", title="first shown"),
    ]


def _reported(data: pd.DataFrame, x: alt.X, scale: alt.Scale) -> alt.Chart:
    columns = ["month", "claims", "percent", "expected", "first"]
    bars = alt.Chart(data[columns]).mark_bar(stroke=theme.MARK, strokeWidth=1)
    drawn: alt.Chart = bars.encode(x=x, y=_y("claims", scale), tooltip=_tooltip())
    return drawn


def _to_come(late: pd.DataFrame, x: alt.X, scale: alt.Scale) -> alt.Chart:
    """Draw the frame from what is reported to what is expected."""
    columns = ["month", "claims", "completed", "percent", "expected", "first"]
    bars = alt.Chart(late[columns]).mark_bar(
        fill=theme.PAPER, stroke=theme.MARK, strokeWidth=1
    )
    drawn: alt.Chart = bars.encode(
        x=x, y=_y("completed", scale), y2="claims:Q", tooltip=_tooltip()
    )
    return drawn


def _stripes(late: pd.DataFrame, top: float) -> list[tuple[str, float]]:
    """Return month and height of each stripe; they line up across the bars."""
    step = _STRIPE * top / _HEIGHT
    return [
        (month, float(height))
        for month, low, high in zip(
            late["month"], late["claims"], late["completed"], strict=True
        )
        for height in step * np.arange(np.ceil(low / step), np.ceil(high / step))
        if height > low
    ]


def _lines(
    points: Iterable[tuple[str, float]],
    thickness: float,
    colour: str,
    x: alt.X,
    scale: alt.Scale,
) -> alt.Chart:
    """Draw level lines across bars."""
    rows = [(month, at, at - thickness) for month, at in points]
    data = rounded(pd.DataFrame(rows, columns=["month", "above", "below"]))
    bars = alt.Chart(data).mark_bar(color=colour, tooltip=None)
    drawn: alt.Chart = bars.encode(x=x, y=_y("above", scale), y2="below:Q")
    return drawn


def _whisker(late: pd.DataFrame, x: alt.X, scale: alt.Scale) -> alt.Chart:
    rules = alt.Chart(late[["month", "lower", "upper"]]).mark_rule(color=theme.INK)
    drawn: alt.Chart = rules.encode(x=x, y=_y("lower", scale), y2="upper:Q")
    return drawn


def _whisker_ends(
    late: pd.DataFrame, end: str, x: alt.X, scale: alt.Scale
) -> alt.Chart:
    ticks = alt.Chart(late[["month", end]]).mark_tick(
        orient="horizontal", size=7, thickness=1.4, color=theme.INK
    )
    drawn: alt.Chart = ticks.encode(x=x, y=_y(end, scale))
    return drawn


def _shares(
    late: pd.DataFrame, x: alt.X, scale: alt.Scale, layout: Layout
) -> alt.Chart:
    """Write the share reported above each month that is not complete."""
    data = late[["month", "upper", "percent"]]
    if layout.is_narrow:  # no room for the sign; the key names it
        data = data.assign(percent=[text[:-2] for text in late["percent"]])
    texts = alt.Chart(data).mark_text(
        baseline="bottom", dy=-4, fontSize=10.5, color=theme.QUIET
    )
    drawn: alt.Chart = texts.encode(x=x, y=_y("upper", scale), text="percent:N")
    return drawn
