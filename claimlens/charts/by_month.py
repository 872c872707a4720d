"""The chart of claims by month of report, the same in every report."""

from __future__ import annotations

import pandas as pd

from claimlens.charts import volume
from claimlens.charts.embed import chart_html
from claimlens.charts.tabulate import month_table
from claimlens.charts.theme import NARROW, WIDE
from claimlens.results import ChartHtml

__all__ = ["by_month_chart"]

_ON_A_PHONE = 24


def by_month_chart(frame: pd.DataFrame, name: str) -> ChartHtml | None:
    """Draw the claims of each month of report; None where there is none.

    Parameters
    ----------
    frame : DataFrame
        ``month`` (first day), ``claims``, ``counted``.
    name : str
        Unique on its page.
    """
    if frame.empty:
        return None
    return chart_html(
        name,
        wide=volume.claims_by_month(frame, layout=WIDE),
        # a phone shows the last two years; the table has them all
        narrow=volume.claims_by_month(frame.tail(_ON_A_PHONE), layout=NARROW),
        summary=(
            "One bar for each month of report: below the claims that count in the "
            "rates, above in a lighter tone the others."
        ),
        table=month_table(frame),
    )
