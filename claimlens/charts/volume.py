"""Claims by month of report, and the ranking of components."""

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
from claimlens.monthly_inputs import UNCLASSIFIED

__all__ = ["claims_by_month", "month_axis", "ranking_bars"]

_HEIGHT = 190
_PARTS = ("counted in the rates", "other claims")


def claims_by_month(frame: pd.DataFrame, *, layout: Layout) -> alt.LayerChart:
    """Draw the claims of each month of report.

    Parameters
    ----------
    frame : DataFrame
        ``month`` (first day), ``claims``, ``counted``.
    layout : Layout
        Width of the drawing.

    Returns
    -------
    LayerChart
        Bars for all claims, those that count in the rates below.
    """
    wide = pd.DataFrame(
        {
            "month": month_text(frame["month"]),
            "claims": frame["claims"].astype(int),
            "counted": frame["counted"].astype(int),
        }
    )
    wide["other"] = wide["claims"] - wide["counted"]
    data = pd.concat(
        [
            wide.assign(part=_PARTS[0], n=wide["counted"], place=0),
            wide.assign(part=_PARTS[1], n=wide["other"], place=1),
        ],
        ignore_index=True,
    )
    most = max(int(wide["claims"].max()), 4)
    return layered(
        [_month_bars(data, month_axis(wide["month"], "month of report", layout), most)],
        width=layout.width,
        height=_HEIGHT,
        description="Bars: claims by month of report, counted and other claims.",
    )


def month_axis(months: pd.Series, title: str, layout: Layout) -> alt.X:
    """Return the axis of months, some of them labelled, for bars."""
    domain = list(months)
    return alt.X(
        "month:O",
        title=title,
        scale=alt.Scale(domain=domain, paddingInner=0.25),
        axis=alt.Axis(
            values=month_labels(domain, room=4 if layout.is_narrow else 13),
            labelAngle=0,
            labelOverlap=False,
        ),
    )


def _month_bars(data: pd.DataFrame, x: alt.X, most: int) -> alt.Chart:
    """Draw the stacked bars."""
    bars = alt.Chart(data).mark_bar(stroke=theme.MARK, strokeWidth=1)
    drawn: alt.Chart = bars.encode(
        x=x,
        y=alt.Y(
            "n:Q",
            title="claims a month",
            axis=alt.Axis(tickMinStep=1),
            scale=alt.Scale(domain=[0, most * 1.06], nice=False),
            stack="zero",
        ),
        color=alt.Color(
            "part:N",
            title=None,
            scale=alt.Scale(domain=_PARTS, range=[theme.MARK, theme.SOFT]),
        ),
        order=alt.Order("place:Q"),
        tooltip=[
            alt.Tooltip("month:N", title="month"),
            alt.Tooltip("claims:Q", title="claims", format=","),
            alt.Tooltip("counted:Q", title="counted in the rates", format=","),
        ],
    )
    return drawn


def ranking_bars(
    frame: pd.DataFrame, *, layout: Layout, shown: int = 18
) -> alt.ConcatChart:
    """Draw the components by claims and, beside it, by cost in each currency.

    Parameters
    ----------
    frame : DataFrame
        The ranking: one row a component and currency.
    layout : Layout
        Width of the drawing.
    shown : int, default 18
        Components with a bar; of the others the sum is written, without a bar
        that would dwarf the rest.

    Returns
    -------
    ConcatChart
        One panel of claims and one panel a currency, in the same order.
    """
    claims = frame.drop_duplicates("component").sort_values(
        ["claims", "component"], ascending=[False, True]
    )
    named = [name for name in claims["component"] if name != UNCLASSIFIED]
    order, rest = named[:shown], len(named[shown:])
    others = f"{rest} other components" if rest > 1 else "1 other component"
    named_rows = frame.assign(
        name=frame["component"].where(
            frame["component"].isin([*order, UNCLASSIFIED]), others
        ),
        barred=frame["component"].isin([*order, UNCLASSIFIED]),
    )
    order += [others] if rest else []
    order += [UNCLASSIFIED] if len(named) < len(claims) else []
    one_each = named_rows.drop_duplicates("component")
    panels = [_bars(_summed(one_each, "claims"), "claims", order, layout)]
    costs = named_rows.dropna(subset=["currency"])
    for currency in sorted(costs["currency"].unique()):
        of_it = _summed(costs[costs["currency"] == currency], "cost")
        panels.append(_bars(of_it, f"cost in {currency}", order, layout, names=False))
    return set_in_rows(
        panels,
        layout=layout,
        columns=1 if layout.is_narrow else 2,
        column_gap=30,
        description="Bars: components by number of claims and by cost.",
    )


def _summed(rows: pd.DataFrame, column: str) -> pd.DataFrame:
    """Sum a column over the names of the axis."""
    sums = rows.groupby(["name", "barred"])[column].sum().astype(float)
    return sums.rename("figure").reset_index()


def _bars(
    data: pd.DataFrame,
    title: str,
    order: list[str],
    layout: Layout,
    *,
    names: bool = True,
) -> Panel:
    """Draw one panel of horizontal bars with their figures at the end."""
    data = rounded(data)
    bars = data[data["barred"]]
    data = data.assign(end=data["figure"].where(data["barred"], 0.0))
    top = axis_top(bars["figure"], floor=1.0) * 1.25
    base = alt.Chart(data).encode(
        y=alt.Y(
            "name:N",
            sort=order,
            scale=alt.Scale(domain=order),
            title=None,
            axis=alt.Axis(labelLimit=150, ticks=False, domain=False)
            if names or layout.is_narrow
            else None,
        ),
        tooltip=[
            alt.Tooltip("name:N", title="component"),
            alt.Tooltip("figure:Q", title=title, format=",.0f"),
        ],
    )
    scale = alt.Scale(domain=[0, top], nice=False)
    drawn = base.mark_bar(height={"band": 0.62}).encode(
        x=alt.X(
            "end:Q",
            title=title,
            scale=scale,
            axis=alt.Axis(tickCount=3, format="~s" if top > 9_999_999 else ",.0f"),
        )
    )
    figures = base.mark_text(align="left", dx=4).encode(
        x=alt.X("end:Q", scale=scale, title=title),
        text=alt.Text("figure:Q", format=",.0f"),
    )
    return layered(
        [drawn, figures],
        width=layout.width - 140 if layout.is_narrow else 280,
        height=20 * len(order),
        title=panel_title(title),
    )
