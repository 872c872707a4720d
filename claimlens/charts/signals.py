"""The course of signals: failures of a run of build months, seen and expected."""

from __future__ import annotations

import altair as alt
import pandas as pd

from claimlens.charts import theme
from claimlens.charts.panels import (
    Panel,
    axis_top,
    layered,
    month_labels,
    month_text,
    panel_title,
    rounded,
    set_in_rows,
)
from claimlens.charts.theme import Layout

__all__ = ["signal_courses"]

_HEIGHT = 150
_LINES = ("seen", "expected")
_LEVELS = ("watch", "alarm")
_SHAPES = ("diamond", "triangle-up")


def signal_courses(frame: pd.DataFrame, *, layout: Layout) -> alt.ConcatChart:
    """Draw the failures of each signal's build months as they came.

    Parameters
    ----------
    frame : DataFrame
        ``component, model, month, observed, expected, level``, months rising.
    layout : Layout
        Width of the drawing.

    Returns
    -------
    ConcatChart
        One panel a component and model, in the order of the rows: a solid line for
        the failures known at each month-end, a dashed one for those expected, and a
        mark with its word where the signal reached a level.
    """
    keys = frame[["component", "model"]].drop_duplicates()
    panels = [
        _panel(
            frame[(frame["component"] == component) & (frame["model"] == model)],
            component,
            model,
            layout,
        )
        for component, model in keys.itertuples(index=False, name=None)
    ]
    return set_in_rows(
        panels,
        layout=layout,
        description="Lines: failures seen and expected by month-end, for each signal.",
    )


def _panel(frame: pd.DataFrame, component: str, model: str, layout: Layout) -> Panel:
    frame = frame.assign(month=month_text(frame["month"]))
    domain = list(frame["month"])
    top = axis_top(frame[["observed", "expected"]].max(axis=1), floor=2.0) * 1.18
    scale = alt.Scale(domain=[0, top], nice=False)
    x = alt.X(
        "month:O",
        title="end of month",
        scale=alt.Scale(domain=domain, paddingOuter=0.6),
        axis=alt.Axis(
            values=month_labels(domain, room=4),
            labelAngle=0,
            labelOverlap=False,
            grid=False,
        ),
    )
    y = alt.Y("n:Q", title="failures so far", scale=scale, axis=alt.Axis(tickCount=4))
    last = frame.iloc[-1]
    return layered(
        [_lines(frame, x, y), *_points(frame, x, scale), _hover(frame, x, scale)],
        width=layout.panel_width,
        height=_HEIGHT,
        title=panel_title(
            f"{component}, {model}" if model else component,
            f"{last['observed']:,.0f} seen, {last['expected']:,.1f} expected",
        ),
    )


def _lines(frame: pd.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    data = pd.concat(
        [
            pd.DataFrame({"month": frame["month"], "n": frame[column], "line": word})
            for column, word in zip(("observed", "expected"), _LINES, strict=True)
        ],
        ignore_index=True,
    )
    drawn: alt.Chart = (
        alt.Chart(rounded(data))
        .mark_line()
        .encode(
            x=x,
            y=y,
            color=alt.Color(
                "line:N",
                title=None,
                scale=alt.Scale(domain=_LINES, range=[theme.MARK, theme.QUIET]),
            ),
            strokeDash=alt.StrokeDash(
                "line:N",
                title=None,
                scale=alt.Scale(domain=_LINES, range=[[1, 0], [4, 3]]),
            ),
        )
    )
    return drawn


def _points(frame: pd.DataFrame, x: alt.X, scale: alt.Scale) -> list[alt.Chart]:
    """Mark where each level was first reached; the last of two in one month."""
    firsts = [
        frame[frame["level"] == level].head(1).assign(word=level) for level in _LEVELS
    ]
    data = pd.concat(firsts, ignore_index=True).drop_duplicates("month", keep="last")
    if data.empty:
        return []
    # lines rise: a word is clear of them to the left, if there is room for it
    early = data["month"] < frame["month"].iloc[int(len(frame) * 0.3)]
    data = rounded(data[["month", "observed", "word"]]).assign(
        place=early.map({True: "left", False: "right"}).to_numpy(),
        right=early.map({True: -4, False: -8}).to_numpy(),
        up=early.map({True: -15, False: -6}).to_numpy(),
    )
    place = alt.Y("observed:Q", scale=scale)
    marks = (
        alt.Chart(data)
        .mark_point(size=95, opacity=1, strokeWidth=1.6, stroke=theme.INK)
        .encode(
            x=x,
            y=place,
            shape=alt.Shape(
                "word:N",
                legend=None,
                scale=alt.Scale(domain=_LEVELS, range=list(_SHAPES)),
            ),
            fill=alt.Fill(
                "word:N",
                legend=None,
                scale=alt.Scale(domain=_LEVELS, range=[theme.PAPER, theme.INK]),
            ),
        )
    )
    words = (
        alt.Chart(data)
        .mark_text(
            align=alt.ExprRef("datum.place"),
            dx=alt.ExprRef("datum.right"),
            dy=alt.ExprRef("datum.up"),
            color=theme.INK,
        )
        .encode(x=x, y=place, text="word:N")
    )
    return [marks, words]


def _hover(frame: pd.DataFrame, x: alt.X, scale: alt.Scale) -> alt.Chart:
    drawn: alt.Chart = (
        alt.Chart(rounded(frame[["month", "observed", "expected", "level"]]))
        .mark_point(size=60, opacity=0)
        .encode(
            x=x,
            y=alt.Y("observed:Q", scale=scale),
            tooltip=[
                alt.Tooltip("month:N", title="end of"),
                alt.Tooltip("observed:Q", title="failures seen", format=",.0f"),
                alt.Tooltip("expected:Q", title="expected", format=",.1f"),
                alt.Tooltip("level:N", title="level"),
            ],
        )
    )
    return drawn
