"""The charts of the pack for a supplier."""

from __future__ import annotations

from claimlens.charts import production, volume
from claimlens.charts.embed import chart_html
from claimlens.charts.tabulate import month_table
from claimlens.charts.tabulate_rising import window_table
from claimlens.charts.theme import NARROW, WIDE
from claimlens.report_inputs.supplier import SupplierInputs
from claimlens.results import ChartHtml

__all__ = ["build"]

_PANELS = 4
_SHOWN = 0.05


def build(inputs: SupplierInputs) -> dict[str, ChartHtml]:
    """Draw every chart of the pack.

    Parameters
    ----------
    inputs : SupplierInputs
        The frames.

    Returns
    -------
    dict of str to ChartHtml
        ``claims-by-month``, ``production-windows``; a chart whose frame holds nothing
        to draw is left out.
    """
    made = {
        "claims-by-month": _by_month(inputs, "claims-by-month"),
        "production-windows": _windows(inputs, "production-windows"),
    }
    return {name: chart for name, chart in made.items() if chart is not None}


def _by_month(inputs: SupplierInputs, name: str) -> ChartHtml | None:
    frame = inputs.claims_by_month
    if frame.empty:
        return None
    return chart_html(
        name,
        wide=volume.claims_by_month(frame, layout=WIDE),
        narrow=volume.claims_by_month(frame.tail(24), layout=NARROW),
        summary=(
            "One bar for each month of report: below the claims that count in the "
            "rates, above in a lighter tone the others."
        ),
        table=month_table(frame),
    )


def _windows(inputs: SupplierInputs, name: str) -> ChartHtml | None:
    listed = inputs.windows[inputs.windows["p_value"] <= _SHOWN]
    frame = inputs.window_months
    drawn = set(frame["component"])
    shown = [
        str(component)
        for component in dict.fromkeys(listed["component"])
        if component in drawn
    ][:_PANELS]
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
