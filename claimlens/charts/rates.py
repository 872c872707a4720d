"""Share of units with a failure: by model year, and by build month."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import altair as alt
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
    state_of,
)
from claimlens.charts.theme import Layout

__all__ = ["FEWEST_UNITS", "rate_by_build_month", "rate_dots"]

_STATES = ("mature", "too young to trust")
# below it a share says less than the counts; methods of the trade print counts
FEWEST_UNITS = 5


def rate_dots(
    frame: pd.DataFrame, *, layout: Layout, components: Sequence[str]
) -> alt.ConcatChart:
    """Draw the share failed at one age as dots with intervals.

    Parameters
    ----------
    frame : DataFrame
        Columns of ``rates`` by component and model year.
    layout : Layout
        Width of the drawing.
    components : sequence of str
        One panel each, in this order.

    Returns
    -------
    ConcatChart
        A row a model year; the number of units stands at the end of it.
    """
    years = sorted({str(int(year)) for year in frame["model_year"].dropna()})
    months = int(frame["at_months"].iloc[0])
    title = f"units failed by {months} months in service"
    panels = [
        _dots(frame[frame["component"] == name], name, years, title, layout)
        for name in components
    ]
    return set_in_rows(
        panels,
        layout=layout,
        description=f"Dots with intervals: {title}, by component and model year.",
    )


def _dots(
    frame: pd.DataFrame, name: str, years: list[str], title: str, layout: Layout
) -> Panel:
    """Draw one component."""
    data = rounded(frame[["rate", "lower", "upper", "units", "claims"]]).assign(
        year=frame["model_year"].astype(int).astype(str),
        state=state_of(frame["mature"]),
        size=["n " + f"{int(units):,}" for units in frame["units"]],
    )
    known = data.dropna(subset=["rate"])
    # two fifths of the axis stay free for the number of units
    scale = alt.Scale(
        domain=[0, axis_top(known["upper"], floor=0.002) * 1.4], nice=False
    )
    rows = alt.Y("year:O", title="model year", scale=alt.Scale(domain=years))
    tooltip = [
        alt.Tooltip("year:N", title="model year"),
        alt.Tooltip("rate:Q", title="share failed", format=".2%"),
        alt.Tooltip("lower:Q", title="lower limit", format=".2%"),
        alt.Tooltip("upper:Q", title="upper limit", format=".2%"),
        alt.Tooltip("units:Q", title="units", format=","),
        alt.Tooltip("claims:Q", title="units with a failure", format=","),
        alt.Tooltip("state:N", title="maturity"),
    ]
    x = alt.X(
        "lower:Q",
        title=title,
        scale=scale,
        axis=alt.Axis(format="~%", tickCount=4),
    )
    rules = (
        alt.Chart(known)
        .mark_rule()
        .encode(
            x=x,
            x2="upper:Q",
            y=rows,
            strokeDash=_dash(),
        )
    )
    dots = (
        alt.Chart(known)
        .mark_point(size=52, opacity=1, stroke=theme.MARK)
        .encode(
            x=alt.X("rate:Q", scale=scale, title=title),
            y=rows,
            shape=_shape(),
            fill=_fill(),
            tooltip=tooltip,
        )
    )
    sizes = (
        alt.Chart(data)
        .mark_text(align="right", color=theme.QUIET, fontSize=10.5)
        .encode(x=alt.value(layout.panel_width), y=rows, text="size:N")
    )
    unknown = (
        alt.Chart(data[data["rate"].isna()])
        .mark_text(align="left", color=theme.QUIET, fontSize=10.5, fontStyle="italic")
        .encode(x=alt.value(4), y=rows, text=alt.value("none that old"))
    )
    return layered(
        [rules, dots, sizes, unknown],
        width=layout.panel_width,
        height=max(22 * len(years), 44),
        title=panel_title(name),
    )


def rate_by_build_month(
    frame: pd.DataFrame,
    *,
    layout: Layout,
    components: Sequence[str],
    pooled: Mapping[str, float],
) -> alt.ConcatChart:
    """Draw the share failed at one age against the month of build.

    Parameters
    ----------
    frame : DataFrame
        One row a component and build month.
    layout : Layout
        Width of the drawing.
    components : sequence of str
        One panel each, in this order.
    pooled : mapping of str to float
        Share of all units of a component, 0 to 1, for the dashed line; a
        component may be missing.

    Returns
    -------
    ConcatChart
        Dots sized by units, with intervals; a limit above the frame is cut.
    """
    frame = frame.assign(month=month_text(frame["build_month"]))
    domain = domain_of_months(frame["month"])
    largest = int(frame["units"].max())
    panels = [
        _build_panel(
            frame[frame["component"] == name],
            name,
            domain,
            layout,
            pooled=pooled.get(name),
            largest=largest,
        )
        for name in components
    ]
    return set_in_rows(
        panels,
        layout=layout,
        columns=1,
        description="Dots with intervals: share failed against month of build.",
    )


def _build_panel(
    frame: pd.DataFrame,
    name: str,
    domain: list[str],
    layout: Layout,
    *,
    pooled: float | None,
    largest: int,
) -> Panel:
    """Draw one component against the month of build."""
    months = int(frame["at_months"].iloc[0])
    data = rounded(
        frame[["month", "rate", "lower", "upper", "units", "claims"]]
    ).assign(state=state_of(frame["mature"]))
    data = data[(data["units"] >= FEWEST_UNITS) & data["rate"].notna()]
    trusted = data[data["state"] == _STATES[0]]
    # wide limits of tiny months must not flatten the rest
    end = axis_top((trusted if len(trusted) else data)["upper"], floor=0.002)
    end = max(end, axis_top(data["rate"], floor=0.0))
    data = data.assign(drawn=data["upper"].clip(upper=end))
    scale = alt.Scale(domain=[0, end], nice=False)
    axis = alt.Axis(
        values=month_labels(domain, room=4 if layout.is_narrow else 13),
        labelAngle=0,
        labelOverlap=False,
        grid=False,
    )
    x = alt.X(
        "month:O",
        title="month of build",
        scale=alt.Scale(domain=domain),
        axis=axis,
    )
    rules = (
        alt.Chart(data)
        .mark_rule(strokeWidth=0.7 if layout.is_narrow else 1.4)
        .encode(
            x=x,
            y=alt.Y(
                "lower:Q",
                scale=scale,
                title=f"failed by {months} months",
                axis=alt.Axis(format="~%", tickCount=4),
            ),
            y2="drawn:Q",
            strokeDash=_dash(),
        )
    )
    dots = (
        alt.Chart(data)
        .mark_point(opacity=1, stroke=theme.MARK)
        .encode(
            x=x,
            y=alt.Y("rate:Q", scale=scale),
            shape=_shape(),
            fill=_fill(),
            size=alt.Size(
                "units:Q",
                title="units built",
                scale=alt.Scale(
                    domain=[0, largest], range=[3, 20] if layout.is_narrow else [8, 110]
                ),
                legend=alt.Legend(
                    values=_round_steps(largest),
                    symbolStrokeColor=theme.MARK,
                    symbolFillColor=theme.MARK,
                ),
            ),
            tooltip=[
                alt.Tooltip("month:N", title="month of build"),
                alt.Tooltip("rate:Q", title="share failed", format=".2%"),
                alt.Tooltip("lower:Q", title="lower limit", format=".2%"),
                alt.Tooltip("upper:Q", title="upper limit", format=".2%"),
                alt.Tooltip("units:Q", title="units", format=","),
                alt.Tooltip("claims:Q", title="units with a failure", format=","),
                alt.Tooltip("state:N", title="maturity"),
            ],
        )
    )
    layers: list[alt.Chart] = [rules, dots]
    subtitle = f"{int(frame['units'].sum()):,} units built"
    if pooled is not None:
        layers.append(
            alt.Chart(pd.DataFrame({"rate": [float(f"{pooled:.6g}")]}))
            .mark_rule(color=theme.ACCENT, strokeDash=[5, 3])
            .encode(y=alt.Y("rate:Q", scale=scale))
        )
        subtitle += f"; dashed line: all of them, {pooled:.2%}"
    return layered(
        layers,
        width=layout.width,
        height=120,
        title=panel_title(name, subtitle),
    )


def _dash() -> alt.StrokeDash:
    """Solid for figures to trust, dotted for those too young.

    Vega-Lite merges its legend with that of shape and fill; a legend of None
    here would remove all three.
    """
    return alt.StrokeDash(
        "state:N",
        title=None,
        scale=alt.Scale(domain=_STATES, range=[[1, 0], [2, 2]]),
    )


def _shape() -> alt.Shape:
    """Tell maturity by shape, with the words in a legend."""
    return alt.Shape(
        "state:N",
        title=None,
        scale=alt.Scale(domain=_STATES, range=["circle", "diamond"]),
    )


def _fill() -> alt.Fill:
    """Filled for figures to trust, hollow for those too young."""
    return alt.Fill(
        "state:N",
        title=None,
        scale=alt.Scale(domain=_STATES, range=[theme.MARK, theme.PAPER]),
    )


def _round_steps(largest: int) -> list[int]:
    """Return one or two round numbers of units for the size legend."""
    power = 10 ** (len(str(max(largest, 1))) - 1)
    top = max(largest // power * power, 1)
    return [step for step in (top // 4, top) if step > 0]
