"""The table behind each chart: the same numbers, in reading order, unformatted."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from claimlens.charts.panels import month_text
from claimlens.results import ChartColumn, ChartTable

__all__ = [
    "build_month_table",
    "chosen_rows",
    "curve_table",
    "late_table",
    "month_table",
    "point_table",
    "ranking_table",
    "rate_table",
    "table_of",
]

_LIMITS = (
    ChartColumn("share failed", "share"),
    ChartColumn("lower limit", "share", "lower"),
    ChartColumn("upper limit", "share", "upper"),
)

_RATE = ("units", "claims", "rate", "lower", "upper", "mature", "note")


def table_of(columns: Sequence[ChartColumn], frame: pd.DataFrame) -> ChartTable:
    """Turn a frame with one column per heading into plain Python cells."""
    rows = [
        tuple(_cell(value, column) for value, column in zip(row, columns, strict=True))
        for row in frame.itertuples(index=False, name=None)
    ]
    return ChartTable(tuple(columns), tuple(rows))


def _cell(value: object, column: ChartColumn) -> str | int | float | bool | None:
    """Turn one cell into a Python value; missing ones into None."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return None
    match column.kind:
        case "text":
            return str(value)
        case "count":
            return round(float(str(value)))
        case "yes_no":
            return bool(value)
        case _:
            return float(str(value))


def chosen_rows(frame: pd.DataFrame, components: Sequence[str]) -> pd.DataFrame:
    """Keep the rows of these components, in their order."""
    rank = {name: place for place, name in enumerate(components)}
    kept = frame[frame["component"].isin(rank)]
    order = kept["component"].map(rank)
    return kept.iloc[order.argsort(kind="stable").to_numpy()]


def month_table(frame: pd.DataFrame) -> ChartTable:
    """Tabulate the claims by month of report."""
    columns = (
        ChartColumn("month of report", "text"),
        ChartColumn("claims", "count"),
        ChartColumn("counted in the rates", "count"),
    )
    return table_of(
        columns,
        pd.DataFrame(
            {
                "month": month_text(frame["month"]),
                "claims": frame["claims"],
                "counted": frame["counted"],
            }
        ),
    )


def late_table(frame: pd.DataFrame) -> ChartTable:
    """Tabulate the claims by month of failure, seen and completed."""
    columns = (
        ChartColumn("month of failure", "text"),
        ChartColumn("claims so far", "count"),
        ChartColumn("share reported", "share"),
        ChartColumn("expected finally", "number"),
        ChartColumn("lower limit", "count", "lower"),
        ChartColumn("upper limit", "count", "upper"),
        ChartColumn("note", "text"),
    )
    names = ["claims", "share_reported", "completed", "lower", "upper", "note"]
    return table_of(
        columns, frame.assign(month=month_text(frame["month"]))[["month", *names]]
    )


def ranking_table(frame: pd.DataFrame) -> ChartTable:
    """Tabulate the ranking, one row a component and currency."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("claims", "count"),
        ChartColumn("share of all claims", "share"),
        ChartColumn("units failed", "count"),
        ChartColumn("repeats", "count"),
        ChartColumn("cost", "money"),
        ChartColumn("currency", "text"),
    )
    names = ["component", "claims", "share", "units_failed", "repeats", "cost"]
    ordered = frame.sort_values(
        ["claims", "component", "currency"], ascending=[False, True, True]
    )
    return table_of(columns, ordered[[*names, "currency"]])


def rate_table(frame: pd.DataFrame, components: Sequence[str]) -> ChartTable:
    """Tabulate the rates by component and model year."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("model year", "text"),
        ChartColumn("units", "count"),
        ChartColumn("units with a failure", "count"),
        *_LIMITS,
        ChartColumn("mature", "yes_no"),
        ChartColumn("note", "text"),
    )
    chosen = chosen_rows(frame.sort_values("model_year", kind="stable"), components)
    chosen = chosen.assign(model_year=chosen["model_year"].astype(int).astype(str))
    return table_of(columns, chosen[["component", "model_year", *_RATE]])


def build_month_table(frame: pd.DataFrame, components: Sequence[str]) -> ChartTable:
    """Tabulate the rates by component and month of build."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("month of build", "text"),
        ChartColumn("units", "count"),
        ChartColumn("units with a failure", "count"),
        *_LIMITS,
        ChartColumn("mature", "yes_no"),
        ChartColumn("note", "text"),
    )
    frame = frame.assign(build_month=month_text(frame["build_month"]))
    chosen = chosen_rows(frame.sort_values("build_month", kind="stable"), components)
    return table_of(columns, chosen[["component", "build_month", *_RATE]])


def curve_table(frame: pd.DataFrame, components: Sequence[str]) -> ChartTable:
    """Tabulate the curves at each third month of age and at their last step."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("months in service", "number"),
        *_LIMITS,
        ChartColumn("units at risk", "count"),
        ChartColumn("mature", "yes_no"),
    )
    chosen = chosen_rows(frame.sort_values("months", kind="stable"), components)
    rows: list[tuple[object, ...]] = []
    for _, curve in chosen.groupby("component", sort=False):
        last = float(curve["months"].iloc[-1])
        for age in [*range(3, int(last) + 1, 3), last]:
            in_force = curve[curve["months"] <= age + 1e-9]
            if len(in_force) and not (rows and rows[-1][:2] == (_name(curve), age)):
                row = in_force.iloc[-1]
                rows.append(
                    (
                        _name(curve),
                        float(age),
                        *(row[name] for name in ("share", "lower", "upper")),
                        row["at_risk"],
                        row["mature"],
                    )
                )
    return table_of(columns, pd.DataFrame(rows, columns=range(len(columns))))


def _name(curve: pd.DataFrame) -> str:
    """Return the component of a curve."""
    return str(curve["component"].iloc[0])


def point_table(frame: pd.DataFrame, components: Sequence[str]) -> ChartTable:
    """Tabulate the Kaplan-Meier points of the probability plot."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("months in service", "number"),
        *_LIMITS,
    )
    chosen = chosen_rows(frame.sort_values("months", kind="stable"), components)
    return table_of(columns, chosen[["component", "months", "share", "lower", "upper"]])
