"""The monthly charts of the claims to come, and of how an earlier forecast did."""

from __future__ import annotations

import pandas as pd

from claimlens.charts import reserve, to_come
from claimlens.charts.embed import chart_html
from claimlens.charts.tabulate_to_come import fan_table, reserve_table, tested_table
from claimlens.charts.theme import NARROW, WIDE
from claimlens.monthly_inputs import RESERVE_PARTS as PARTS
from claimlens.monthly_inputs import RESERVE_TOTAL as TOTAL
from claimlens.monthly_inputs import MonthlyInputs, ToCome
from claimlens.results import ChartHtml

__all__ = ["fan_chart", "reserve_chart", "tested_chart"]

# amounts below are no bar: of model years whose cover has ended
_LEAST = 1.0
# months of history on a phone
_RECENT = 12
#: Ways of forecasting, by the column that holds them.
_WAYS = {
    "expected": "the forecast, with both bands",
    "last_three": "mean of the three months before",
    "last_year": "same months a year before",
}
_LIMITS = ("lower80", "upper80", "lower95", "upper95")


def fan_chart(ahead: ToCome, name: str) -> ChartHtml | None:
    """Draw the claims of the last two years and those of the next."""
    history, months = ahead.claims_so_far, ahead.months_to_come
    if months.empty:
        return None
    return chart_html(
        name,
        wide=to_come.claims_to_come(history, months, layout=WIDE),
        narrow=to_come.claims_to_come(history.tail(_RECENT), months, layout=NARROW),
        summary=(
            "The solid line is the claims reported in each month up to the cut-off, "
            "the dashed one those expected after it. Of 100 such months, 80 are to "
            "lie in the dark band and 95 in the light one. A month of report is "
            "complete when it ends, so no past month will grow."
        ),
        table=fan_table(history, months),
    )


def tested_chart(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    """Draw the oldest earlier forecast against what came."""
    frame, judged = inputs.to_come.backtest_months, inputs.to_come.backtests
    if frame.empty:
        return None
    oldest = frame["months_back"].max()
    months = frame[frame["months_back"] == oldest]
    totals = _totals(months, judged[judged["months_back"] == oldest].iloc[0])
    return chart_html(
        name,
        wide=to_come.forecast_tested(months, totals, layout=WIDE),
        narrow=to_come.forecast_tested(months, totals, layout=NARROW),
        summary=(
            f"The forecast as it would have been made {oldest} months ago. By month: "
            "dashed what it expected, with bands that are to hold 80 and 95 of 100 "
            "months; solid what came. All months together: one dot for each way of "
            "forecasting; the nearer to the line of what came, the better. The table "
            "has every earlier forecast."
        ),
        table=tested_table(frame),
    )


def _totals(months: pd.DataFrame, judged: pd.Series) -> pd.DataFrame:
    """Return what each way of forecasting said of all months together."""
    rows = [
        {"way": words, "expected": float(months[column].sum())}
        for column, words in _WAYS.items()
    ]
    table = pd.DataFrame(rows).assign(actual=float(judged["actual"]))
    for limit in _LIMITS:
        table[limit] = [float(judged[limit]), *([float("nan")] * (len(rows) - 1))]
    return table


def reserve_chart(inputs: MonthlyInputs, name: str) -> ChartHtml | None:
    """Draw what each model year under cover still costs."""
    frame = inputs.reserve.reserve_years
    is_total = frame["part"] == TOTAL
    totals = frame[is_total & (frame["upper95"] >= _LEAST)]
    if totals.empty:
        return None
    parts = frame[~is_total & frame["model_year"].isin(totals["model_year"])]
    words = {part: PARTS[part] for part in PARTS if (parts["part"] == part).any()}
    return chart_html(
        name,
        wide=reserve.reserve_by_model_year(parts, totals, layout=WIDE, words=words),
        narrow=reserve.reserve_by_model_year(parts, totals, layout=NARROW, words=words),
        summary=(
            "One bar for each model year: from the bottom what is reported and open, "
            "what has failed and is not yet reported, what is to fail under cover, and "
            "what units shipped and not yet sold will bring. The whisker is the "
            "interval of 95 % of their sum."
        ),
        table=reserve_table(frame),
    )
