"""Failure against age: cumulative share failed, and the probability plot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import altair as alt
import numpy as np
import pandas as pd

from claimlens.charts import theme
from claimlens.charts.panels import (
    Panel,
    axis_top,
    layered,
    panel_title,
    rounded,
    set_in_rows,
)
from claimlens.charts.theme import Layout

__all__ = ["cumulative_share", "probability_plot", "thin_curve"]

_STEP = 0.25  # months: finer steps can't be told apart in a panel
_HEIGHT = 150
_TICK_SHARES = (
    0.000001,
    0.00001,
    0.0001,
    0.0003,
    0.001,
    0.003,
    0.01,
    0.03,
    0.1,
    0.3,
    0.6,
    0.9,
    0.99,
)
_TICK_MONTHS = (0.1, 0.3, 1, 3, 6, 12, 24, 48, 96)


def thin_curve(frame: pd.DataFrame) -> pd.DataFrame:
    """Keep the last row of each quarter month, and the first and last of all.

    Parameters
    ----------
    frame : DataFrame
        One component's curve, ``months`` in service rising.
    """
    frame = frame.sort_values("months", kind="stable")
    bins = np.floor(frame["months"].to_numpy(dtype=float) / _STEP + 1e-9)
    keep = np.append(np.diff(bins) > 0, True)
    keep[:1] = True
    return frame[keep]


def cumulative_share(
    frame: pd.DataFrame,
    *,
    layout: Layout,
    components: Sequence[str],
    units: Mapping[str, int],
) -> alt.ConcatChart:
    """Draw the share of units failed against months in service.

    Parameters
    ----------
    frame : DataFrame
        ``component, months, share, lower, upper, at_risk, mature``.
    layout : Layout
        Width of the drawing.
    components : sequence of str
        One panel each, in this order.
    units : mapping of str to int
        Units in service of each component, for the heading.

    Returns
    -------
    ConcatChart
        Steps with a band; dotted where too few units are that old; the
        units still at risk stand along the top.
    """
    last = float(frame["months"].max())
    panels = [
        _curve_panel(
            thin_curve(_from_birth(frame[frame["component"] == name])),
            f"{units[name]:,} units; " if name in units else "",
            last,
            layout,
        )
        for name in components
    ]
    return set_in_rows(
        panels,
        layout=layout,
        description="Steps with bands: share of units failed by months in service.",
    )


def _from_birth(frame: pd.DataFrame) -> pd.DataFrame:
    """Let a curve begin where it does: no unit has failed before age 0."""
    frame = frame.sort_values("months", kind="stable")
    if frame.empty or frame["months"].iloc[0] <= 0:
        return frame
    birth = frame.iloc[:1].assign(months=0.0, share=0.0, lower=0.0, upper=0.0)
    return pd.concat([birth, frame], ignore_index=True)


def _curve_panel(frame: pd.DataFrame, units: str, last: float, layout: Layout) -> Panel:
    """Draw one component's curve."""
    name = str(frame["component"].iloc[0])
    data = rounded(frame[["months", "share", "lower", "upper", "at_risk"]]).assign(
        mature=frame["mature"].astype(bool).to_numpy()
    )
    data = data.dropna(subset=["share"]).reset_index(drop=True)
    # the dotted part starts where the solid one ends, or there would be a gap
    data["dotted"] = ~data["mature"] | (data.index == data["mature"].sum() - 1)
    top = axis_top(data["upper"], floor=0.002) * 1.2
    x = alt.X(
        "months:Q",
        title="months in service",
        scale=alt.Scale(domain=[0, last], nice=False),
        axis=alt.Axis(values=_month_ticks(last), grid=False),
    )
    scale = alt.Scale(domain=[0, top], nice=False)
    y = alt.Y(
        "share:Q",
        title="share failed",
        scale=scale,
        axis=alt.Axis(format="~%", tickCount=4),
    )
    band = (
        alt.Chart(data)
        .mark_area(interpolate="step-after")
        .encode(x=x, y=alt.Y("lower:Q", scale=scale), y2="upper:Q")
    )
    layers: list[alt.Chart] = [band]
    layers += [
        alt.Chart(data)
        .transform_filter("datum.mature")
        .mark_line(interpolate="step-after")
        .encode(x=x, y=y),
        alt.Chart(data)
        .transform_filter("datum.dotted")
        .mark_line(interpolate="step-after", strokeDash=[2, 2.5])
        .encode(x=x, y=y),
    ]
    hover = (
        alt.Chart(data)
        .mark_point(size=60, opacity=0)
        .encode(
            x=x,
            y=y,
            tooltip=[
                alt.Tooltip("months:Q", title="months in service", format=".1f"),
                alt.Tooltip("share:Q", title="share failed", format=".2%"),
                alt.Tooltip("lower:Q", title="lower limit", format=".2%"),
                alt.Tooltip("upper:Q", title="upper limit", format=".2%"),
                alt.Tooltip("at_risk:Q", title="units at risk", format=",.0f"),
            ],
        )
    )
    layers += [hover, _at_risk_labels(data, last, x)]
    return layered(
        layers,
        width=layout.panel_width,
        height=_HEIGHT,
        title=panel_title(name, f"{units}along the top: at risk"),
    )


def _at_risk_labels(data: pd.DataFrame, last: float, x: alt.X) -> alt.Chart:
    """Write the units at risk along the top, at the ages with a tick."""
    oldest = float(data["months"].max())
    ages = [age for age in _month_ticks(last) if 0 < age <= oldest]
    months = data["months"].to_numpy(dtype=float)
    # a step counts until the next one: take the row in force at each age
    at = [max(int(np.searchsorted(months, age, side="right")) - 1, 0) for age in ages]
    labels = pd.DataFrame(
        {
            "months": ages,
            "label": [f"{round(float(data['at_risk'].iloc[row])):,}" for row in at],
            "place": ["right" if age >= last * 0.97 else "center" for age in ages],
        }
    )
    text = alt.Chart(labels).mark_text(
        color=theme.QUIET, fontSize=10, align=alt.ExprRef("datum.place")
    )
    labelled: alt.Chart = text.encode(x=x, y=alt.value(7), text="label:N")
    return labelled


def _month_ticks(last: float) -> list[int]:
    """Return ages to label: each 6, 12 or 24 months."""
    step = 3 if last <= 12 else 6 if last <= 26 else 12 if last <= 62 else 24
    return list(range(0, int(last) + 1, step))


def probability_plot(
    points: pd.DataFrame,
    line: pd.DataFrame,
    *,
    layout: Layout,
    components: Sequence[str],
    captions: Sequence[str],
) -> alt.ConcatChart:
    """Draw the Weibull probability plot: points, fitted line and its band.

    Parameters
    ----------
    points : DataFrame
        ``component, months, share, lower, upper``: Kaplan-Meier.
    line : DataFrame
        The same columns of the fit, and ``beyond`` for ages past the oldest
        unit.
    layout : Layout
        Width of the drawing.
    components : sequence of str
        One panel each, in this order.
    captions : sequence of str
        One a component, such as its number of failures.

    Returns
    -------
    ConcatChart
        Age on a log axis against ln(-ln(1 - share)), on which a Weibull
        distribution is a straight line; shares are printed on the axis.
    """
    panels = [
        _probability_panel(
            points[points["component"] == name],
            line[line["component"] == name],
            name,
            caption,
            layout,
        )
        for name, caption in zip(components, captions, strict=True)
    ]
    return set_in_rows(
        panels,
        layout=layout,
        description="Weibull probability plot: points, fitted line and band.",
    )


def _weibull_scale(share: pd.Series) -> np.ndarray:
    """Return ln(-ln(1 - share)); NaN where share is not inside 0 to 1."""
    values = share.to_numpy(dtype=float, na_value=np.nan)
    inside = (values > 0) & (values < 1)
    safe = np.where(inside, values, 0.5)
    return np.where(inside, np.log(-np.log1p(-safe)), np.nan)


def _probability_panel(
    points: pd.DataFrame,
    line: pd.DataFrame,
    name: str,
    caption: str,
    layout: Layout,
) -> Panel:
    """Draw one component's probability plot."""
    dots = _on_scale(points)
    fit = _on_scale(line).assign(beyond=line["beyond"].astype(bool).to_numpy())
    dots = dots[(dots["months"] > 0) & dots["y"].notna()]
    fit = fit[(fit["months"] > 0) & fit["y"].notna()]
    seen = pd.concat([dots["y"], fit["y"]])
    low, high = float(seen.min()) - 0.7, float(seen.max()) + 0.5
    for frame in (dots, fit):
        frame["y_lower"] = frame["y_lower"].fillna(low).clip(low, high)
        frame["y_upper"] = frame["y_upper"].fillna(high).clip(low, high)
    months = pd.concat([dots["months"], fit["months"]])
    x = alt.X(
        "months:Q",
        title="months in service",
        scale=alt.Scale(
            type="log",
            domain=[float(months.min()) * 0.85, float(months.max()) * 1.1],
            nice=False,
        ),
        axis=alt.Axis(values=list(_TICK_MONTHS), format="~g", labelOverlap=True),
    )
    ticks = [float(f"{np.log(-np.log1p(-share)):.9g}") for share in _TICK_SHARES]
    y_scale = alt.Scale(domain=[low, high], nice=False, zero=False)
    y = alt.Y(
        "y:Q",
        title="share failed",
        scale=y_scale,
        axis=alt.Axis(
            values=ticks,
            labelExpr="format(1 - exp(-exp(datum.value)), '.2~p')",
            labelOverlap=True,
        ),
    )
    tooltip = [
        alt.Tooltip("months:Q", title="months in service", format=".3~g"),
        alt.Tooltip("share:Q", title="share failed", format=".2%"),
        alt.Tooltip("lower:Q", title="lower limit", format=".2%"),
        alt.Tooltip("upper:Q", title="upper limit", format=".2%"),
    ]
    y_lower = alt.Y("y_lower:Q", scale=y_scale)
    fit = fit.sort_values("months").reset_index(drop=True)
    fit["dashed"] = fit["beyond"] | (fit.index == (~fit["beyond"]).sum() - 1)
    layers: list[alt.Chart] = [
        alt.Chart(fit).mark_area().encode(x=x, y=y_lower, y2="y_upper:Q"),
        alt.Chart(fit)
        .transform_filter("!datum.beyond")
        .mark_line(color=theme.ACCENT)
        .encode(x=x, y=y),
        alt.Chart(fit)
        .transform_filter("datum.dashed")
        .mark_line(color=theme.ACCENT, strokeDash=[5, 3])
        .encode(x=x, y=y),
    ]
    layers += [
        alt.Chart(dots).mark_rule(opacity=0.7).encode(x=x, y=y_lower, y2="y_upper:Q"),
        alt.Chart(dots)
        .mark_point(size=26, opacity=1)
        .encode(x=x, y=y, tooltip=tooltip),
    ]
    return layered(
        layers,
        width=layout.panel_width,
        height=layout.panel_width * 0.9,
        title=panel_title(name, caption),
    )


def _on_scale(frame: pd.DataFrame) -> pd.DataFrame:
    """Add the plotting positions of share and limits."""
    return rounded(
        frame[["months", "share", "lower", "upper"]].assign(
            y=_weibull_scale(frame["share"]),
            y_lower=_weibull_scale(frame["lower"]),
            y_upper=_weibull_scale(frame["upper"]),
        )
    )
