"""Claims to come as a fan, and an earlier forecast against what came."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import numpy as np
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

__all__ = ["claims_to_come", "forecast_tested"]

_FAN_HEIGHT, _TEST_HEIGHT = 210, 170
# half a step of room at both ends of an axis of months
_PADDING = 0.5
_BAND = {"95": 0.5, "80": 1.0}
_KEY = (
    "Solid: reported. Dashed: expected. Dark band: holds 80 of 100 such months,",
    "light band: 95 of 100.",
)
_KEY_NARROW = (
    "Solid: reported. Dashed: expected.",
    "Dark band: holds 80 of 100 such months,",
    "light band: 95 of 100.",
)
_PANEL_GAP = 60


def claims_to_come(
    history: pd.DataFrame, months: pd.DataFrame, *, layout: Layout
) -> alt.LayerChart:
    """Draw the claims of past months and, as a fan, those to come.

    Parameters
    ----------
    history : DataFrame
        ``month`` (first day) and ``reported``, months rising.
    months : DataFrame
        ``month, so_far, expected`` and limits of 80 and 95 %; what is reported
        of a month already is added to what is still expected of it.
    layout : Layout
        Width of the drawing.

    Returns
    -------
    LayerChart
        A solid line for what was reported, a dashed one with two bands for what is
        expected, and a rule between them.
    """
    past = rounded(
        pd.DataFrame({"month": month_text(history["month"]), "n": history["reported"]})
    )
    fan = _whole_months(months)
    domain = [*past["month"], *fan["month"]]
    top = axis_top(pd.concat([past["n"], fan["upper95"]]), floor=4.0)
    scale = alt.Scale(domain=[0, top], nice=False)
    x = _months_axis(domain, "month of report", 4 if layout.is_narrow else 13)
    layers = [
        *_fan(fan, x, scale, "claims a month"),
        *_seen(past, x, scale, "reported"),
        _cut_off(past, len(domain), x, layout.width),
    ]
    return layered(
        layers,
        width=layout.width,
        height=_FAN_HEIGHT,
        title=_key(_KEY_NARROW if layout.is_narrow else _KEY),
        description="Lines: claims by month of report, reported and expected.",
    )


def forecast_tested(
    months: pd.DataFrame, totals: pd.DataFrame, *, layout: Layout
) -> alt.ConcatChart:
    """Draw an earlier forecast against what came.

    Parameters
    ----------
    months : DataFrame
        ``month, expected``, limits of 80 and 95 %, and ``actual``.
    totals : DataFrame
        One row a way of forecasting: ``way`` (its words), ``expected`` of all months
        together, its limits (missing for naive ways), and the ``actual`` claims.
    layout : Layout
        Width of the drawing.

    Returns
    -------
    ConcatChart
        Two panels: the course by month, and all months together.
    """
    narrow = layout.is_narrow
    width = layout.panel_width if narrow else (layout.width - _PANEL_GAP) // 2
    return set_in_rows(
        [_course(months, width), _together(totals, width)],
        layout=layout,
        columns=1 if narrow else 2,
        column_gap=_PANEL_GAP,
        description="Lines and dots: an earlier forecast and what came.",
    )


def _key(lines: Sequence[str]) -> alt.TitleParams:
    return alt.TitleParams(
        text=list(lines),
        fontSize=11.5,
        fontWeight="normal",
        color=theme.QUIET,
        lineHeight=15,
    )


def _whole_months(months: pd.DataFrame) -> pd.DataFrame:
    """Return expected claims and limits of whole months."""
    names = ["expected", "lower80", "upper80", "lower95", "upper95"]
    added = months[names].add(months["so_far"], axis=0)
    return rounded(added.assign(month=month_text(months["month"])))


def _months_axis(domain: Sequence[str], title: str, room: int) -> alt.X:
    return alt.X(
        "month:O",
        title=title,
        scale=alt.Scale(domain=list(domain), type="point", padding=_PADDING),
        axis=alt.Axis(
            values=month_labels(domain, room=room),
            labelAngle=0,
            labelOverlap=False,
            grid=False,
        ),
    )


def _y(column: str, scale: alt.Scale, title: str) -> alt.Y:
    return alt.Y(
        f"{column}:Q",
        title=title,
        scale=scale,
        axis=alt.Axis(tickMinStep=1, tickCount=5),
    )


def _fan(data: pd.DataFrame, x: alt.X, scale: alt.Scale, title: str) -> list[alt.Chart]:
    """Draw both bands, their outer edges, and the expected claims in them."""
    layers = []
    for level, opacity in _BAND.items():
        area = alt.Chart(data).mark_area(opacity=opacity, tooltip=None)
        layers.append(
            area.encode(x=x, y=_y(f"lower{level}", scale, title), y2=f"upper{level}:Q")
        )
    line = alt.Chart(data).mark_line(strokeDash=[5, 3])
    layers.append(line.encode(x=x, y=_y("expected", scale, title)))
    points = alt.Chart(data).mark_point(size=60, opacity=0)
    layers.append(
        points.encode(
            x=x,
            y=_y("expected", scale, title),
            tooltip=_fan_tooltip(),
        )
    )
    return layers


def _fan_tooltip() -> list[alt.Tooltip]:
    limits = [
        alt.Tooltip(f"{end}{level}:Q", title=f"{level} %, {end}", format=",.0f")
        for level in _BAND
        for end in ("lower", "upper")
    ]
    return [
        alt.Tooltip("month:N", title="month of report"),
        alt.Tooltip("expected:Q", title="expected", format=",.0f"),
        *limits,
    ]


def _seen(data: pd.DataFrame, x: alt.X, scale: alt.Scale, word: str) -> list[alt.Chart]:
    """Draw what was reported as a line with a dot a month."""
    base = alt.Chart(data).encode(
        x=x,
        y=_y("n", scale, "claims a month"),
        tooltip=[
            alt.Tooltip("month:N", title="month of report"),
            alt.Tooltip("n:Q", title=word, format=",.0f"),
        ],
    )
    return [
        base.mark_line(color=theme.INK, tooltip=None),
        base.mark_point(color=theme.INK, size=26, opacity=1),
    ]


def _cut_off(past: pd.DataFrame, n_months: int, x: alt.X, width: int) -> alt.Chart:
    """Draw the rule between what was reported and what is to come."""
    step = width / (n_months - 1 + 2 * _PADDING)
    drawn: alt.Chart = (
        alt.Chart(past[["month"]].tail(1))
        .mark_rule(color=theme.QUIET, strokeDash=[2, 3], xOffset=round(step / 2, 2))
        .encode(x=x)
    )
    return drawn


def _course(months: pd.DataFrame, width: int) -> Panel:
    data = _whole_months(months.assign(so_far=0.0))
    came = rounded(
        pd.DataFrame({"month": data["month"], "n": months["actual"].to_numpy()})
    )
    top = axis_top(pd.concat([came["n"], data["upper95"]]), floor=4.0)
    scale = alt.Scale(domain=[0, top], nice=False)
    x = _months_axis(list(data["month"]), "month of report", 4)
    inside = came["n"].between(data["lower95"], data["upper95"])
    return layered(
        [*_fan(data, x, scale, "claims a month"), *_seen(came, x, scale, "came")],
        width=width,
        height=_TEST_HEIGHT,
        title=panel_title(
            "By month",
            f"{int(inside.sum())} of {len(came)} months inside the 95 % band",
        ),
    )


def _together(totals: pd.DataFrame, width: int) -> Panel:
    """Draw the sums of all months, one row a way of forecasting."""
    data = rounded(totals)
    came = float(totals["actual"].iloc[0])
    values = totals[["expected", "lower95", "upper95"]].to_numpy(dtype=float)
    low, high = min(np.nanmin(values), came), max(np.nanmax(values), came)
    room = max(high - low, 1.0) * 0.12
    scale = alt.Scale(domain=[max(low - room, 0.0), high + room], nice=False)
    x = alt.X(
        "expected:Q",
        title="claims in all months together",
        scale=scale,
        axis=alt.Axis(tickCount=4, format=",.0f"),
    )
    y = alt.Y(
        "way:N",
        sort=list(data["way"]),
        title=None,
        axis=None,
        scale=alt.Scale(domain=list(data["way"])),
    )
    layers = [*_band_bars(data.dropna(subset=["lower95"]), y, scale)]
    layers.append(_came(came, scale))
    dots = alt.Chart(data).encode(
        x=x,
        y=y,
        tooltip=[
            alt.Tooltip("way:N", title="forecast"),
            alt.Tooltip("expected:Q", title="expected", format=",.0f"),
            alt.Tooltip("actual:Q", title="came", format=",.0f"),
        ],
    )
    layers.append(dots.mark_point(size=70, opacity=1, color=theme.MARK))
    layers += _ways(data, y)
    return layered(
        layers,
        width=width,
        height=_TEST_HEIGHT,
        title=panel_title(
            "All months together", f"line: the {came:,.0f} claims that came"
        ),
    )


def _ways(data: pd.DataFrame, y: alt.Y) -> list[alt.Chart]:
    """Name each row above it, on paper that keeps the line out of the words."""
    base = alt.Chart(data[["way"]]).encode(x=alt.value(0), y=y, text="way:N")
    return [
        base.mark_text(align="left", dy=-17, stroke=theme.PAPER, strokeWidth=5),
        base.mark_text(align="left", dy=-17),
    ]


def _band_bars(data: pd.DataFrame, y: alt.Y, scale: alt.Scale) -> list[alt.Chart]:
    """Draw both bands of a sum over each other, in the tones of the fan."""
    return [
        alt.Chart(data)
        .mark_bar(height=14, color=theme.SOFT, opacity=opacity, tooltip=None)
        .encode(x=alt.X(f"lower{level}:Q", scale=scale), x2=f"upper{level}:Q", y=y)
        for level, opacity in _BAND.items()
    ]


def _came(came: float, scale: alt.Scale) -> alt.Chart:
    drawn: alt.Chart = (
        alt.Chart(rounded(pd.DataFrame({"came": [came]})))
        .mark_rule(color=theme.INK, strokeWidth=1.8, tooltip=None)
        .encode(x=alt.X("came:Q", scale=scale))
    )
    return drawn
