"""The charts of the monthly report: which, for which components, and their tables."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import pandas as pd
from altair.utils.schemapi import debug_mode

from claimlens.analysis.comparisons import high_build_runs, high_model_years
from claimlens.charts import late, lives, rates, volume
from claimlens.charts.by_month import by_month_chart
from claimlens.charts.embed import chart_html
from claimlens.charts.monthly_rising import changes_chart, signals_chart, windows_chart
from claimlens.charts.monthly_to_come import fan_chart, reserve_chart, tested_chart
from claimlens.charts.tabulate import (
    build_month_table,
    curve_table,
    late_table,
    point_table,
    ranking_table,
    rate_table,
)
from claimlens.charts.theme import NARROW, WIDE
from claimlens.monthly_inputs import UNCLASSIFIED, MonthlyInputs
from claimlens.results import ChartHtml

__all__ = ["CHARTS", "build", "draw"]

_PANELS = 6
_BUILD_PANELS = 4


def build(inputs: MonthlyInputs) -> dict[str, ChartHtml]:
    """Draw every chart of the monthly report.

    Parameters
    ----------
    inputs : MonthlyInputs
        The frames.

    Returns
    -------
    dict of str to ChartHtml
        Those of ``CHARTS``; a chart whose frame holds nothing to draw is left out.
        Panels show the components that stand out and those with most claims; the
        tables hold all that is drawn.
    """
    made = {name: draw(inputs, name) for name in CHARTS}
    return {name: chart for name, chart in made.items() if chart is not None}


def draw(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    """Draw one chart of the monthly report.

    Parameters
    ----------
    inputs : MonthlyInputs
        The frames.
    name : str
        One of ``CHARTS``.

    Returns
    -------
    ChartHtml or None
        None where its frame holds nothing to draw.
    """
    # every part would be checked against the schema of Vega-Lite when it is made, and
    # again in each whole that it is put into; the tests check the whole
    with debug_mode(False):
        return _MAKERS[name](inputs, name)


def _leading(
    inputs: MonthlyInputs,
    frame: pd.DataFrame,
    count: int,
    first: Sequence[str] = (),
) -> list[str]:
    """Return the components to draw: those named first, then by claims.

    Only components with something to draw are among them. Unclassified claims
    are no component; the tables keep their row.
    """
    present = set(frame["component"]) - {UNCLASSIFIED}
    order = inputs.ranking.drop_duplicates("component").sort_values(
        ["claims", "component"], ascending=[False, True]
    )["component"]
    ordered = dict.fromkeys([*first, *order])
    return [name for name in ordered if name in present][:count]


def _claims_by_failure_month(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    frame = inputs.late_months
    if not frame["claims"].any():
        return None
    return chart_html(
        name,
        wide=late.claims_by_failure_month(frame, layout=WIDE),
        narrow=late.claims_by_failure_month(frame.tail(12), layout=NARROW),
        summary=(
            "One bar for each month of failure: full up to the claims reported by the "
            "cut-off, striped up to those expected finally, with the interval as a "
            "whisker and the share reported above it. The line across a bar is "
            "the figure that the report of that month first showed."
        ),
        table=late_table(frame),
    )


def _ranking(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    frame = inputs.ranking
    if frame.empty:
        return None
    return chart_html(
        name,
        wide=volume.ranking_bars(frame, layout=WIDE),
        narrow=volume.ranking_bars(frame, layout=NARROW, shown=12),
        summary=(
            "One bar for each component, most claims first; beside it the cost of "
            "these claims in the same order. Claims of every class are in it. The "
            "sum of the components without a bar, and the unclassified claims, stand "
            "at the foot."
        ),
        table=ranking_table(frame),
    )


def _rate_by_model_year(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    frame = inputs.rates_by_model_year.dropna(subset=["model_year"])
    apart = [item.component for item in high_model_years(frame)]
    shown = _leading(inputs, frame.dropna(subset=["rate"]), _PANELS, apart)
    if not shown:
        return None
    return chart_html(
        name,
        wide=rates.rate_dots(frame, layout=WIDE, components=shown),
        narrow=rates.rate_dots(frame, layout=NARROW, components=shown),
        summary=(
            "One panel for each component, one row for each model year. The dot is "
            "the share of units with a failure, the line its interval, n the units. "
            "A hollow diamond with a dotted line is too young to trust. Panels show "
            "the components that stand out, then those with most claims, each on its "
            "own axis; the table has every component."
        ),
        table=rate_table(frame, [*_leading(inputs, frame, len(frame)), UNCLASSIFIED]),
    )


def _rate_by_build_month(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    frame = inputs.build_months
    drawn = frame[frame["rate"].notna() & (frame["units"] >= rates.FEWEST_UNITS)]
    apart = [run.component for run in high_build_runs(inputs)]
    shown = _leading(inputs, drawn, _BUILD_PANELS, apart)
    if not shown:
        return None
    months = frame["at_months"].iloc[0]
    pooled_rows = inputs.rates_by_component[
        (inputs.rates_by_component["at_months"] == months)
        & inputs.rates_by_component["rate"].notna()
    ]
    pooled = {
        str(row.component): float(row.rate)
        for row in pooled_rows[["component", "rate"]].itertuples(index=False)
    }
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
            "cut. Panels show the components that stand out, then those with most "
            "claims."
        ),
        table=build_month_table(frame, shown),
    )


def _cumulative_share(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    frame = inputs.curves.dropna(subset=["share"])
    shown = _leading(inputs, frame, _PANELS)
    if not shown:
        return None
    rates_at = inputs.rates_by_component
    units = {
        str(component): int(most)
        for component, most in rates_at.groupby("component")["units"].max().items()
    }
    return chart_html(
        name,
        wide=lives.cumulative_share(frame, layout=WIDE, components=shown, units=units),
        narrow=lives.cumulative_share(
            frame, layout=NARROW, components=shown, units=units
        ),
        summary=(
            "The steps rise with the share of units that had a first failure by that "
            "age; the band is the interval. The dotted end rests on too few old "
            "units, or on months whose reports are still arriving. Numbers along "
            "the top are the units still at risk. Each panel has its own axis."
        ),
        table=curve_table(frame, shown),
    )


def _probability_plot(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    points, line = inputs.life_points, inputs.life_line
    usable = points[(points["months"] > 0) & (points["share"] > 0)]
    fitted = line[(line["months"] > 0) & (line["share"] > 0)]
    both = usable[usable["component"].isin(set(fitted["component"]))]
    shown = _leading(inputs, both, _PANELS)
    if not shown:
        return None
    captions = [_fit_caption(inputs.life, component) for component in shown]
    return chart_html(
        name,
        wide=lives.probability_plot(
            points, line, layout=WIDE, components=shown, captions=captions
        ),
        narrow=lives.probability_plot(
            points, line, layout=NARROW, components=shown, captions=captions
        ),
        summary=(
            "Both axes are stretched so that a Weibull distribution is a straight "
            "line with its shape as slope. Dots are what was seen, with intervals; "
            "the line is the fit with its band, dashed beyond the oldest unit. Where "
            "the dots leave the band, trust the dots. Each panel has its own axes."
        ),
        table=point_table(points, shown),
    )


def _fit_caption(life: pd.DataFrame, component: str) -> str:
    """Write the failures and the shape of a component's fit."""
    own = life[life["component"] == component]
    if own.empty:
        return ""
    failures, shape = int(own["failures"].iloc[0]), float(own["shape"].iloc[0])
    counted = f"{failures:,} failures"
    return counted if math.isnan(shape) else f"{counted}; shape {shape:.2g}"


_MAKERS: Mapping[str, Callable[[MonthlyInputs, str], ChartHtml | None]] = {
    "signal-courses": lambda inputs, name: signals_chart(inputs.rising, name),
    "production-windows": lambda inputs, name: windows_chart(inputs.rising, name),
    "change-curves": lambda inputs, name: changes_chart(inputs.rising, name),
    "claims-by-month": lambda inputs, name: by_month_chart(
        inputs.claims_by_month, name
    ),
    "claims-by-failure-month": _claims_by_failure_month,
    "claims-to-come": lambda inputs, name: fan_chart(inputs.to_come, name),
    "forecast-tested": tested_chart,
    "reserve-by-model-year": reserve_chart,
    "ranking": _ranking,
    "rate-by-model-year": _rate_by_model_year,
    "rate-by-build-month": _rate_by_build_month,
    "cumulative-share": _cumulative_share,
    "probability-plot": _probability_plot,
}

#: The charts of the report, in their order.
CHARTS = tuple(_MAKERS)
