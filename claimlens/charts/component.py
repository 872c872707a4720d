"""The charts of one component's dossier."""

from __future__ import annotations

import altair as alt
import pandas as pd

from claimlens.charts import lives, rates, theme
from claimlens.charts.by_month import by_month_chart
from claimlens.charts.embed import chart_html
from claimlens.charts.monthly_rising import changes_chart, signals_chart, windows_chart
from claimlens.charts.monthly_to_come import fan_chart
from claimlens.charts.panels import axis_top, layered, rounded
from claimlens.charts.tabulate import (
    build_month_table,
    curve_table,
    point_table,
    rate_table,
    table_of,
)
from claimlens.charts.theme import NARROW, WIDE, Layout
from claimlens.report_inputs.component import ComponentInputs
from claimlens.results import ChartColumn, ChartHtml, ChartTable

__all__ = ["build", "failures_by_age"]

_AGE_HEIGHT = 190
# share of the most units from which on a month sets the height of the frame
_MANY = 0.2
# one component has the page for itself
_ALONE = Layout(width=WIDE.width, panels=2, panel_width=430)
_YEARS = Layout(width=WIDE.width, panels=2, panel_width=560)


def build(inputs: ComponentInputs) -> dict[str, ChartHtml]:
    """Draw every chart of the dossier of a component.

    Parameters
    ----------
    inputs : ComponentInputs
        The frames.

    Returns
    -------
    dict of str to ChartHtml
        ``claims-by-month``, ``rate-by-model-year``, ``cumulative-share``,
        ``probability-plot``, ``failures-by-age``, ``rate-by-build-month``,
        ``signal-courses``, ``production-windows``, ``change-curves``,
        ``claims-to-come``; a chart whose frame holds nothing to draw is left out.
    """
    made = {
        "claims-by-month": by_month_chart(inputs.claims_by_month, "claims-by-month"),
        "rate-by-model-year": _by_year(inputs, "rate-by-model-year"),
        "cumulative-share": _cumulative(inputs, "cumulative-share"),
        "probability-plot": _probability(inputs, "probability-plot"),
        "failures-by-age": _by_age(inputs, "failures-by-age"),
        "rate-by-build-month": _by_build_month(inputs, "rate-by-build-month"),
        "signal-courses": signals_chart(inputs.rising, "signal-courses"),
        "production-windows": windows_chart(inputs.rising, "production-windows"),
        "change-curves": changes_chart(inputs.rising, "change-curves"),
        "claims-to-come": fan_chart(inputs.to_come, "claims-to-come"),
    }
    return {name: chart for name, chart in made.items() if chart is not None}


def _by_year(inputs: ComponentInputs, name: str) -> ChartHtml | None:
    frame = inputs.by_year.dropna(subset=["model_year"])
    if frame["rate"].isna().all():
        return None
    shown = [inputs.component]
    return chart_html(
        name,
        wide=rates.rate_dots(frame, layout=_YEARS, components=shown),
        narrow=rates.rate_dots(frame, layout=NARROW, components=shown),
        summary=(
            "One row for each model year. The dot is the share of units with a "
            "failure, the line its interval, n the units. A hollow diamond with a "
            "dotted line is too young to trust."
        ),
        table=rate_table(frame, shown),
    )


def _cumulative(inputs: ComponentInputs, name: str) -> ChartHtml | None:
    frame = inputs.curves.dropna(subset=["share"])
    if frame.empty:
        return None
    shown = [inputs.component]
    units = {inputs.component: int(inputs.rates["units"].max())}
    return chart_html(
        name,
        wide=lives.cumulative_share(
            frame, layout=_YEARS, components=shown, units=units
        ),
        narrow=lives.cumulative_share(
            frame, layout=NARROW, components=shown, units=units
        ),
        summary=(
            "The steps rise with the share of units that had a first failure by that "
            "age; the band is the interval. The dotted end rests on too few old "
            "units, or on months whose reports are still arriving. Numbers along "
            "the top are the units still at risk."
        ),
        table=curve_table(frame, shown),
    )


def _probability(inputs: ComponentInputs, name: str) -> ChartHtml | None:
    points, line = inputs.life_points, inputs.life_line
    usable = points[(points["months"] > 0) & (points["share"] > 0)]
    fitted = line[(line["months"] > 0) & (line["share"] > 0)]
    if usable.empty or fitted.empty:
        return None
    shown = [inputs.component]
    failures, shape = inputs.life[["failures", "shape"]].iloc[0]
    captions = [f"{failures:,.0f} failures; shape {shape:.2g}"]
    return chart_html(
        name,
        wide=lives.probability_plot(
            points, line, layout=_ALONE, components=shown, captions=captions
        ),
        narrow=lives.probability_plot(
            points, line, layout=NARROW, components=shown, captions=captions
        ),
        summary=(
            "Both axes are stretched so that a Weibull distribution is a straight "
            "line with its shape as slope. Dots are what was seen, with intervals; "
            "the line is the fit with its band, dashed beyond the oldest unit. Where "
            "the dots leave the band, trust the dots."
        ),
        table=point_table(points, shown),
    )


def _by_build_month(inputs: ComponentInputs, name: str) -> ChartHtml | None:
    frame = inputs.build_months
    drawn = frame[frame["rate"].notna() & (frame["units"] >= rates.FEWEST_UNITS)]
    if drawn.empty:
        return None
    shown, at = [inputs.component], frame["at_months"].iloc[0]
    pooled_rows = inputs.rates[
        (inputs.rates["at_months"] == at) & inputs.rates["rate"].notna()
    ]
    pooled = dict(zip(shown, pooled_rows["rate"].astype(float), strict=False))
    return chart_html(
        name,
        wide=rates.rate_by_build_month(
            frame, layout=WIDE, components=shown, pooled=pooled
        ),
        narrow=rates.rate_by_build_month(
            frame, layout=NARROW, components=shown, pooled=pooled
        ),
        summary=(
            "One dot for each month of build, larger where more units were built, "
            "with its interval; the dashed line is the share of all units. Hollow "
            "diamonds are too young to trust; months with fewer than "
            f"{rates.FEWEST_UNITS} units have no dot, and a limit above the frame is "
            "cut."
        ),
        table=build_month_table(frame, shown),
    )


def _by_age(inputs: ComponentInputs, name: str) -> ChartHtml | None:
    frame = inputs.ages
    if not frame["failures"].any():
        return None
    return chart_html(
        name,
        wide=failures_by_age(frame, layout=WIDE),
        narrow=failures_by_age(frame, layout=NARROW),
        summary=(
            "One bar for each month in service: the first failures in it per 1,000 "
            "units that pass it under observation, with the interval as a whisker; a "
            "limit above the frame is cut. Bars that fall tell of early life, bars "
            "that rise of wear; months with fewer units than the least that a mature "
            "rate needs have none."
        ),
        table=_age_table(frame),
    )


def failures_by_age(frame: pd.DataFrame, *, layout: Layout) -> alt.LayerChart:
    """Draw first failures per 1,000 units and month against months in service.

    Parameters
    ----------
    frame : DataFrame
        ``month`` in service, ``failures``, ``unit_months``, ``rate`` and its limits.
    layout : Layout
        Width of the drawing.

    Returns
    -------
    LayerChart
        A bar for each month, with a whisker.
    """
    data = rounded(frame[["month", "failures", "unit_months", "rate"]]).assign(
        month=frame["month"].astype(int)
    )
    # the wide limits of the few oldest units must not flatten the rest
    many = frame["unit_months"] >= _MANY * frame["unit_months"].max()
    end = max(
        axis_top(frame.loc[many, "upper"], floor=0.01),
        axis_top(frame["rate"], floor=0.0),
    )
    data = data.assign(
        lower=rounded(frame[["lower"]])["lower"].clip(upper=end),
        upper=rounded(frame[["upper"]])["upper"].clip(upper=end),
    )
    last = int(data["month"].max())
    step = 3 if last <= 30 else 6 if last <= 66 else 12
    step *= 2 if layout.is_narrow and last > 30 else 1
    x = alt.X(
        "month:O",
        title="month in service",
        scale=alt.Scale(domain=list(range(1, last + 1)), paddingInner=0.2),
        axis=alt.Axis(
            values=[1, *range(step, last + 1, step)], labelAngle=0, labelOverlap=True
        ),
    )
    scale = alt.Scale(domain=[0, end], nice=False)
    tooltip = [
        alt.Tooltip("month:O", title="month in service"),
        alt.Tooltip("rate:Q", title="failures per 1,000 units", format=".2f"),
        alt.Tooltip("lower:Q", title="lower limit", format=".2f"),
        alt.Tooltip("upper:Q", title="upper limit", format=".2f"),
        alt.Tooltip("failures:Q", title="first failures", format=",.0f"),
        alt.Tooltip("unit_months:Q", title="units that pass it", format=",.0f"),
    ]
    bars = (
        alt.Chart(data)
        .mark_bar(color=theme.SOFT, stroke=theme.MARK, strokeWidth=1)
        .encode(
            x=x,
            y=alt.Y(
                "rate:Q",
                title="first failures per 1,000 units",
                scale=scale,
                axis=alt.Axis(tickCount=5),
            ),
            tooltip=tooltip,
        )
    )
    whiskers = (
        alt.Chart(data)
        .mark_rule(strokeWidth=0.8 if layout.is_narrow else 1.2, color=theme.INK)
        .encode(x=x, y=alt.Y("lower:Q", scale=scale), y2="upper:Q")
    )
    return layered(
        [bars, whiskers],
        width=layout.width,
        height=_AGE_HEIGHT,
        description="Bars with whiskers: first failures per 1,000 units by month in "
        "service.",
    )


def _age_table(frame: pd.DataFrame) -> ChartTable:
    columns = (
        ChartColumn("month in service", "text"),
        ChartColumn("first failures", "count"),
        ChartColumn("units that pass it", "count"),
        ChartColumn("per 1,000", "number"),
        ChartColumn("lower limit", "number", "lower"),
        ChartColumn("upper limit", "number", "upper"),
    )
    names = ["failures", "unit_months", "rate", "lower", "upper"]
    return table_of(
        columns, frame.assign(month=frame["month"].astype(str))[["month", *names]]
    )
