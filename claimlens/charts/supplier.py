"""The charts of the pack for a supplier."""

from __future__ import annotations

from claimlens.charts.by_month import by_month_chart
from claimlens.charts.monthly_rising import window_panels
from claimlens.report_inputs.supplier import SupplierInputs
from claimlens.results import ChartHtml

__all__ = ["build"]

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
    listed = inputs.windows[inputs.windows["p_value"] <= _SHOWN]
    made = {
        "claims-by-month": by_month_chart(inputs.claims_by_month, "claims-by-month"),
        "production-windows": window_panels(
            inputs.window_months, listed, "production-windows"
        ),
    }
    return {name: chart for name, chart in made.items() if chart is not None}
