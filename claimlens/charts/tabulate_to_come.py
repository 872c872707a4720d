"""The tables behind the charts of the claims to come."""

from __future__ import annotations

import pandas as pd

from claimlens.charts.panels import month_text
from claimlens.charts.tabulate import table_of
from claimlens.results import ChartColumn, ChartTable

__all__ = ["fan_table", "reserve_table", "tested_table"]

_EXPECTED = ("expected", "lower80", "upper80", "lower95", "upper95")
_COLUMNS = (
    ChartColumn("expected", "number"),
    ChartColumn("80 %, lower", "number", "lower"),
    ChartColumn("80 %, upper", "number", "upper"),
    ChartColumn("95 %, lower", "number", "lower"),
    ChartColumn("95 %, upper", "number", "upper"),
)


def fan_table(history: pd.DataFrame, months: pd.DataFrame) -> ChartTable:
    """Tabulate the claims of past months and those to come."""
    past = history.assign(**dict.fromkeys(_EXPECTED, float("nan")))
    ahead = months.assign(reported=months["so_far"].where(months["so_far"] > 0))
    names = ["month", "reported", *_EXPECTED]
    rows = pd.concat([past[names], ahead[names]], ignore_index=True)
    columns = (
        ChartColumn("month of report", "text"),
        ChartColumn("reported", "number"),
        *_COLUMNS,
    )
    return table_of(columns, rows.assign(month=month_text(rows["month"])))


def tested_table(frame: pd.DataFrame) -> ChartTable:
    """Tabulate earlier forecasts, naive ones, and what came, by month."""
    columns = (
        ChartColumn("month of report", "text"),
        ChartColumn("forecast made, months ago", "count"),
        ChartColumn("came", "number"),
        *_COLUMNS,
        ChartColumn("mean of the three months before", "number"),
        ChartColumn("same month a year before", "number"),
    )
    names = ["month", "months_back", "actual", *_EXPECTED, "last_three", "last_year"]
    rows = frame.sort_values(["months_back", "month"], ascending=[False, True])
    return table_of(columns, rows.assign(month=month_text(rows["month"]))[names])


def reserve_table(frame: pd.DataFrame) -> ChartTable:
    """Tabulate the reserve by model year and part."""
    columns = (
        ChartColumn("model year", "text"),
        ChartColumn("part", "text"),
        ChartColumn("expected claims", "number"),
        ChartColumn("amount", "money"),
        ChartColumn("80 %, lower", "money", "lower"),
        ChartColumn("80 %, upper", "money", "upper"),
        ChartColumn("95 %, lower", "money", "lower"),
        ChartColumn("95 %, upper", "money", "upper"),
        ChartColumn("currency", "text"),
    )
    years = [
        "not told" if pd.isna(year) else f"{year:.0f}" for year in frame["model_year"]
    ]
    names = ["part", "claims", "amount", *_EXPECTED[1:], "currency"]
    return table_of(columns, frame.assign(model_year=years)[["model_year", *names]])
