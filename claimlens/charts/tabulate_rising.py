"""The tables behind the charts of signals, windows and engineering changes."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from claimlens.charts.panels import month_text
from claimlens.charts.tabulate import chosen_rows, table_of
from claimlens.results import ChartColumn, ChartTable

__all__ = ["change_table", "signal_table", "window_table"]


def signal_table(frame: pd.DataFrame) -> ChartTable:
    """Tabulate the course of each signal."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("end of month", "text"),
        ChartColumn("failures seen", "count"),
        ChartColumn("expected", "number"),
        ChartColumn("level", "text"),
    )
    models = ", " + frame["model"]
    named = frame.assign(
        component=frame["component"] + models.where(frame["model"] != "", ""),
        month=month_text(frame["month"]),
    )
    return table_of(
        columns, named[["component", "month", "observed", "expected", "level"]]
    )


def window_table(frame: pd.DataFrame, components: Sequence[str]) -> ChartTable:
    """Tabulate failures by component and month of build."""
    columns = (
        ChartColumn("component", "text"),
        ChartColumn("month of build", "text"),
        ChartColumn("units", "count"),
        ChartColumn("failures", "count"),
        ChartColumn("expected", "number"),
        ChartColumn("in a window", "yes_no"),
    )
    rows = chosen_rows(frame.assign(month=month_text(frame["month"])), components)
    names = ["component", "month", "units", "observed", "expected", "inside"]
    return table_of(columns, rows[names])


def change_table(frame: pd.DataFrame, numbers: Sequence[str]) -> ChartTable:
    """Tabulate the curves before and after a change, month by month."""
    columns = (
        ChartColumn("change", "text"),
        ChartColumn("months in service", "number"),
        ChartColumn("share failed before", "share"),
        ChartColumn("share failed after", "share"),
    )
    rows: list[tuple[object, ...]] = []
    for number in numbers:
        own = frame[frame["change_no"] == number]
        wide = own.pivot(index="months", columns="side", values="share")
        rows += [
            (number, float(age), line["before"], line["after"])
            for age, line in wide.to_dict("index").items()
            if float(age) > 0
        ]
    return table_of(columns, pd.DataFrame(rows, columns=range(len(columns))))
