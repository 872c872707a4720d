"""Production windows by month of build, and engineering changes by age."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import numpy as np
import pandas as pd

from claimlens.charts import theme
from claimlens.charts.panels import (
    Panel,
    axis_top,
    domain_of_months,
    layered,
    month_labels,
    month_text,
    panel_title,
    rounded,
    set_in_rows,
)
from claimlens.charts.theme import Layout

__all__ = ["change_curves", "production_windows"]

_WINDOW_HEIGHT, _CURVE_HEIGHT = 120, 150
# pixels from one stripe of the hatching to the next, and of one line
_STRIPE, _LINE = 6.0, 1.0
# share of the frame that is left for the word
_WORD_ROOM = 0.14
_SIDES = ("before", "after")


def production_windows(
    frame: pd.DataFrame, *, layout: Layout, components: Sequence[str]
) -> alt.ConcatChart:
    """Draw seen and expected failures by month of build, windows hatched.

    Parameters
    ----------
    frame : DataFrame
        ``component, month, units, observed, expected, inside``.
    layout : Layout
        Width of the drawing.
    components : sequence of str
        One panel each, in this order.

    Returns
    -------
    ConcatChart
        Bars for the share of a month's units that failed so far, a dash for the
        share expected, and shaded, hatched months with a word for each window.
    """
    frame = frame.assign(month=month_text(frame["month"]))
    domain = domain_of_months(frame["month"])
    panels = [
        _window_panel(frame[frame["component"] == name], name, domain, layout)
        for name in components
    ]
    return set_in_rows(
        panels,
        layout=layout,
        columns=1,
        description="Bars: share of units failed so far against month of build.",
    )


def _window_panel(
    frame: pd.DataFrame, name: str, domain: list[str], layout: Layout
) -> Panel:
    data = rounded(frame[["month", "units", "observed", "expected", "inside"]])
    data = data.assign(
        rate=data["observed"] / data["units"], level=data["expected"] / data["units"]
    )
    data = rounded(data)
    top = axis_top(data[["rate", "level"]].max(axis=1), floor=0.002)
    top = top / (1.0 - _WORD_ROOM)
    scale = alt.Scale(domain=[0, top], nice=False)
    x = alt.X(
        "month:O",
        title="month of build",
        scale=alt.Scale(domain=domain, paddingInner=0.25),
        axis=alt.Axis(
            values=month_labels(domain, room=4 if layout.is_narrow else 13),
            labelAngle=0,
            labelOverlap=False,
            grid=False,
        ),
    )
    y = alt.Y(
        "rate:Q",
        title="failed so far",
        scale=scale,
        axis=alt.Axis(format="~%", tickCount=4),
    )
    inside = data[data["inside"]]
    layers = _shade(inside, x, scale, top) if len(inside) else []
    bars = alt.Chart(data).mark_bar(stroke=theme.MARK, strokeWidth=0.6)
    layers.append(bars.encode(x=x, y=y, tooltip=_window_tooltip()))
    layers.append(_level_dashes(data, x, scale, top))
    if len(inside):
        layers.append(_window_words(inside, domain, x, scale, top))
    observed, units = float(data["observed"].sum()), float(data["units"].sum())
    return layered(
        layers,
        width=layout.width,
        height=_WINDOW_HEIGHT,
        title=panel_title(name, f"{observed:,.0f} failures in {units:,.0f} units"),
    )


def _window_tooltip() -> list[alt.Tooltip]:
    return [
        alt.Tooltip("month:N", title="month of build"),
        alt.Tooltip("rate:Q", title="failed so far", format=".2%"),
        alt.Tooltip("level:Q", title="expected", format=".2%"),
        alt.Tooltip("observed:Q", title="failures", format=",.0f"),
        alt.Tooltip("expected:Q", title="failures expected", format=",.1f"),
        alt.Tooltip("units:Q", title="units", format=","),
    ]


def _shade(
    inside: pd.DataFrame, x: alt.X, scale: alt.Scale, top: float
) -> list[alt.Chart]:
    """Shade and hatch the months of windows, over the whole height."""
    months = inside[["month"]].assign(low=0.0, high=top)
    height = alt.Y("low:Q", scale=scale)
    shade = alt.Chart(months).mark_bar(
        color=theme.SOFT, opacity=0.75, width=alt.RelativeBandSize(1.34), tooltip=None
    )
    step = _STRIPE * top / _WINDOW_HEIGHT
    line = _LINE * top / _WINDOW_HEIGHT
    stripes = rounded(
        pd.DataFrame(
            [
                (month, at, at + line)
                for month in inside["month"]
                for at in np.arange(step, top - line, step)
            ],
            columns=["month", "low", "high"],
        )
    )
    hatch = alt.Chart(stripes).mark_bar(
        color=theme.QUIET, width=alt.RelativeBandSize(1.34), tooltip=None
    )
    return [
        shade.encode(x=x, y=height, y2="high:Q"),
        hatch.encode(x=x, y=height, y2="high:Q"),
    ]


def _level_dashes(
    data: pd.DataFrame, x: alt.X, scale: alt.Scale, top: float
) -> alt.Chart:
    """Draw what was expected of each month as a dash across it."""
    thick = 1.8 * top / _WINDOW_HEIGHT
    dashes = rounded(
        pd.DataFrame(
            {
                "month": data["month"],
                "low": (data["level"] - thick / 2).clip(lower=0.0),
                "high": data["level"] + thick / 2,
            }
        )
    )
    drawn: alt.Chart = (
        alt.Chart(dashes)
        .mark_bar(color=theme.ACCENT, width=alt.RelativeBandSize(1.3), tooltip=None)
        .encode(x=x, y=alt.Y("low:Q", scale=scale), y2="high:Q")
    )
    return drawn


def _window_words(
    inside: pd.DataFrame, domain: list[str], x: alt.X, scale: alt.Scale, top: float
) -> alt.Chart:
    """Write a word above the first month of each window."""
    place = {month: number for number, month in enumerate(domain)}
    numbers = inside["month"].map(place).to_numpy()
    opens = np.append(True, np.diff(numbers) > 1)
    first = inside.loc[opens, ["month"]].assign(high=top)
    # a word at the right edge would be cut off
    edge = numbers[opens] > 0.85 * len(domain)
    first = first.assign(word="window", place=np.where(edge, "right", "left"))
    drawn: alt.Chart = (
        alt.Chart(first)
        .mark_text(align=alt.ExprRef("datum.place"), dy=-6, dx=-3, color=theme.INK)
        .encode(x=x, y=alt.Y("high:Q", scale=scale), text="word:N")
    )
    return drawn


def change_curves(
    frame: pd.DataFrame,
    *,
    layout: Layout,
    titles: Sequence[tuple[str, str, str]],
) -> alt.ConcatChart:
    """Draw the share failed before and after engineering changes.

    Parameters
    ----------
    frame : DataFrame
        ``change_no, side, months, share``.
    layout : Layout
        Width of the drawing.
    titles : sequence of (str, str, str)
        One panel each, in this order: number of the change, heading, line below it.

    Returns
    -------
    ConcatChart
        A dashed line before, a solid one after, each with its word at the end.
    """
    panels = [
        _curve_panel(frame[frame["change_no"] == number], heading, below, layout)
        for number, heading, below in titles
    ]
    return set_in_rows(
        panels,
        layout=layout,
        description="Lines: share failed by months in service, before and after.",
    )


def _curve_panel(
    frame: pd.DataFrame, heading: str, below: str, layout: Layout
) -> Panel:
    data = rounded(frame[["side", "months", "share"]])
    last = float(data["months"].max())
    top = axis_top(data["share"], floor=0.002)
    x = alt.X(
        "months:Q",
        title="months in service",
        # room for the words at the end of the lines
        scale=alt.Scale(domain=[0, last * 1.24], nice=False),
        axis=alt.Axis(tickCount=5, tickMinStep=1, grid=False),
    )
    y = alt.Y(
        "share:Q",
        title="share failed",
        scale=alt.Scale(domain=[0, top], nice=False),
        axis=alt.Axis(format="~%", tickCount=4),
    )
    ends = data[data["months"] == last].assign(y=_apart(data, last, top))
    words = (
        alt.Chart(ends)
        .mark_text(align="left", dx=4, color=theme.INK)
        .encode(
            x=x,
            y=alt.Y("y:Q", scale=alt.Scale(domain=[0, top], nice=False)),
            text="side:N",
        )
    )
    return layered(
        [_curves(data, x, y), words],
        width=layout.panel_width,
        height=_CURVE_HEIGHT,
        title=panel_title(heading, below),
    )


def _curves(data: pd.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    """Draw both sides of a change, told apart by dashes too."""
    drawn: alt.Chart = (
        alt.Chart(data)
        .mark_line()
        .encode(
            x=x,
            y=y,
            color=alt.Color(
                "side:N",
                legend=None,
                scale=alt.Scale(domain=_SIDES, range=[theme.QUIET, theme.MARK]),
            ),
            strokeDash=alt.StrokeDash(
                "side:N",
                legend=None,
                scale=alt.Scale(domain=_SIDES, range=[[4, 3], [1, 0]]),
            ),
            tooltip=[
                alt.Tooltip("side:N", title="built"),
                alt.Tooltip("months:Q", title="months in service", format=".0f"),
                alt.Tooltip("share:Q", title="share failed", format=".2%"),
            ],
        )
    )
    return drawn


def _apart(data: pd.DataFrame, last: float, top: float) -> list[float]:
    """Return heights for the words at the ends, so that they do not overlap."""
    ends = data.loc[data["months"] == last, "share"].to_numpy(dtype=float)
    least = 13.0 * top / _CURVE_HEIGHT
    if ends.size == 2 and abs(ends[0] - ends[1]) < least:
        middle, sign = ends.mean(), 1.0 if ends[0] >= ends[1] else -1.0
        return [middle + sign * least / 2, middle - sign * least / 2]
    return [float(value) for value in ends]
