"""The monthly charts of signals, production windows and engineering changes."""

from __future__ import annotations

import pandas as pd

from claimlens.charts import production, signals
from claimlens.charts.embed import chart_html
from claimlens.charts.tabulate_rising import change_table, signal_table, window_table
from claimlens.charts.theme import NARROW, WIDE
from claimlens.monthly_inputs import Rising
from claimlens.results import ChartHtml

__all__ = ["changes_chart", "signals_chart", "window_panels", "windows_chart"]

_WINDOW_PANELS = 4
_CHANGE_PANELS = 6


def signals_chart(rising: Rising, name: str) -> ChartHtml | None:
    """Draw the course of the signals that lead the list."""
    frame = _in_order(rising.signal_months, rising.signals)
    if frame.empty:
        return None
    return chart_html(
        name,
        wide=signals.signal_courses(frame, layout=WIDE),
        narrow=signals.signal_courses(frame, layout=NARROW),
        summary=(
            "One panel for each signal, in the order of the list. The solid line is "
            "the failures of the signal's build months known at each month-end, the "
            "dashed one those to be expected from older production. A hollow diamond "
            "marks where it was first watched, a filled triangle where it became an "
            "alarm. Each panel has its own axes."
        ),
        table=signal_table(frame),
    )


def _in_order(months: pd.DataFrame, listed: pd.DataFrame) -> pd.DataFrame:
    """Set the panels in the order of the list of signals."""
    rank = {
        (component, model): place
        for place, (component, model) in enumerate(
            listed[["component", "model"]].itertuples(index=False, name=None)
        )
    }
    order = [
        rank.get(key, len(rank))
        for key in months[["component", "model"]].itertuples(index=False, name=None)
    ]
    placed = months.assign(place=order).sort_values(
        ["place", "component", "model", "month"], kind="stable"
    )
    return placed.drop(columns="place").reset_index(drop=True)


def windows_chart(rising: Rising, name: str) -> ChartHtml | None:
    """Draw the build months of the components with the most unlikely windows."""
    return window_panels(rising.window_months, rising.windows, name)


def window_panels(
    frame: pd.DataFrame, listed: pd.DataFrame, name: str
) -> ChartHtml | None:
    """Draw the build months of the components that are listed first.

    Parameters
    ----------
    frame : DataFrame
        Months of build, as in ``Rising.window_months``.
    listed : DataFrame
        Windows, the most unlikely first; ``component`` is read.
    name : str
        Unique on its page.
    """
    drawn = set(frame["component"])
    shown = [
        str(component)
        for component in dict.fromkeys(listed["component"])
        if component in drawn
    ][:_WINDOW_PANELS]
    if not shown:
        return None
    return chart_html(
        name,
        wide=production.production_windows(frame, layout=WIDE, components=shown),
        narrow=production.production_windows(frame, layout=NARROW, components=shown),
        summary=(
            "One bar for each month of build: the share of its units that failed so "
            "far. The dash across it is the share to be expected at the rate of all "
            "production outside the windows, at equal ages; both fall towards the "
            "right, where units are young. Hatched months with the word above them "
            "are a window."
        ),
        table=window_table(frame, shown),
    )


def changes_chart(rising: Rising, name: str) -> ChartHtml | None:
    """Draw the newest judged changes before and after."""
    curves, listed = rising.change_curves, rising.design_changes
    drawn = set(curves["change_no"])
    judged = listed[listed["change_no"].isin(drawn)].head(_CHANGE_PANELS)
    if judged.empty:
        return None
    titles = [
        (
            str(row["change_no"]),
            f"{row['change_no']}: {row['component']}",
            f"{row['verdict']}; {_ratio(row['rate_ratio'])}",
        )
        for row in judged.to_dict("records")
    ]
    return chart_html(
        name,
        wide=production.change_curves(curves, layout=WIDE, titles=titles),
        narrow=production.change_curves(curves, layout=NARROW, titles=titles),
        summary=(
            "One panel for each change, its verdict below the heading. The lines rise "
            "with the share of units with a first failure, dashed for units built "
            "before the change and solid for those with it, up to the age that both "
            "have reached. Each panel has its own axes."
        ),
        table=change_table(curves, [number for number, _, _ in titles]),
    )


def _ratio(value: float) -> str:
    return "no ratio" if pd.isna(value) else f"{value:.2g} times the rate before"
