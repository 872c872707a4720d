"""The reserve by model year: its parts, and the band of their sum."""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
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

__all__ = ["reserve_by_model_year"]

_HEIGHT = 190
# panels a row where there are several currencies, and the room between them
_COLUMNS, _GAP = 2, 80
_TONES = (theme.MARK, theme.ACCENT, theme.SOFT, theme.PAPER)


def reserve_by_model_year(
    parts: pd.DataFrame,
    totals: pd.DataFrame,
    *,
    layout: Layout,
    words: Mapping[str, str],
) -> alt.ConcatChart:
    """Draw what each model year still costs, part by part.

    Parameters
    ----------
    parts : DataFrame
        ``model_year, part, amount, currency``.
    totals : DataFrame
        ``model_year, amount, lower95, upper95, currency``: the sums of the parts.
    layout : Layout
        Width of the drawing.
    words : mapping of str to str
        Parts in their order, at most four, and their words in the legend.

    Returns
    -------
    ConcatChart
        One panel a currency: stacked bars, and a whisker for the limits of the sum.
    """
    currencies = sorted(totals["currency"].dropna().unique())
    narrow = layout.is_narrow
    width = (
        layout.width
        if narrow or len(currencies) == 1
        else (layout.width - _GAP) // _COLUMNS
    )
    panels = [
        _panel(
            parts[parts["currency"] == currency],
            totals[totals["currency"] == currency],
            currency,
            words,
            (layout.panel_width if narrow else width, 2 if narrow else len(words)),
        )
        for currency in currencies
    ]
    return set_in_rows(
        panels,
        layout=layout,
        columns=1 if narrow else _COLUMNS,
        column_gap=_GAP,
        description="Bars: what each model year still costs, part by part.",
    )


def _panel(
    parts: pd.DataFrame,
    totals: pd.DataFrame,
    currency: str,
    words: Mapping[str, str],
    size: tuple[int, int],
) -> Panel:
    width, legend_columns = size
    order = {part: place for place, part in enumerate(words)}
    data = rounded(parts[["amount"]]).assign(
        year=_years(parts),
        part=parts["part"].map(words),
        place=parts["part"].map(order),
    )
    sums = rounded(totals[["amount", "lower95", "upper95"]]).assign(year=_years(totals))
    top = axis_top(sums["upper95"], floor=1.0)
    scale = alt.Scale(domain=[0, top], nice=False)
    x = alt.X(
        "year:O",
        title="model year",
        scale=alt.Scale(domain=list(sums["year"]), paddingInner=0.35),
        axis=alt.Axis(labelAngle=0),
    )
    return layered(
        [
            _bars(data, x, scale, currency, _tones(words, legend_columns)),
            *_whiskers(sums, x, scale, currency),
        ],
        width=width,
        height=_HEIGHT,
        title=panel_title(f"still to be paid, {currency}"),
    )


def _years(frame: pd.DataFrame) -> list[str]:
    return [
        "not told" if pd.isna(year) else f"{year:.0f}" for year in frame["model_year"]
    ]


def _tones(words: Mapping[str, str], columns: int) -> alt.Color:
    return alt.Color(
        "part:N",
        legend=alt.Legend(title=None, columns=columns, labelLimit=0),
        scale=alt.Scale(domain=list(words.values()), range=list(_TONES[: len(words)])),
    )


def _amount(column: str, currency: str, scale: alt.Scale) -> alt.Y:
    return alt.Y(
        f"{column}:Q",
        title=currency,
        scale=scale,
        axis=alt.Axis(tickCount=5, format=",.0f"),
    )


def _bars(
    data: pd.DataFrame, x: alt.X, scale: alt.Scale, currency: str, parts: alt.Color
) -> alt.Chart:
    drawn: alt.Chart = (
        alt.Chart(data)
        .mark_bar(stroke=theme.QUIET, strokeWidth=0.8)
        .encode(
            x=x,
            y=_amount("amount", currency, scale).stack("zero"),
            color=parts,
            order=alt.Order("place:Q"),
            tooltip=[
                alt.Tooltip("year:N", title="model year"),
                alt.Tooltip("part:N", title="part"),
                alt.Tooltip("amount:Q", title=currency, format=",.0f"),
            ],
        )
    )
    return drawn


def _whiskers(
    sums: pd.DataFrame, x: alt.X, scale: alt.Scale, currency: str
) -> list[alt.Chart]:
    """Draw the limits of 95 % of each sum."""
    base = alt.Chart(sums)
    rule = base.mark_rule(color=theme.INK, tooltip=None).encode(
        x=x, y=_amount("lower95", currency, scale), y2="upper95:Q"
    )
    ends = [
        base.mark_tick(
            orient="horizontal", size=9, thickness=1.4, color=theme.INK, tooltip=None
        ).encode(x=x, y=_amount(end, currency, scale))
        for end in ("lower95", "upper95")
    ]
    return [rule, *ends]
