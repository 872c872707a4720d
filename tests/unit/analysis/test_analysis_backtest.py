"""What is said of an earlier forecast."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from claimlens.analysis.backtest import Earlier, _judged, earlier_cut_off

MONTHS = 12


def made(expected: float = 10.0) -> Earlier:
    """Return a forecast of a year in which every month is like the others."""
    bands = {"lower80": 6.0, "upper80": 14.0, "lower95": 4.0, "upper95": 17.0}
    months = pd.DataFrame({"month": 24300 + np.arange(MONTHS), "expected": expected})
    months = months.assign(**bands, last_three=12.0, last_year=8.0)
    whole = {name: MONTHS * value for name, value in bands.items()}
    return Earlier(
        as_of=date(2024, 12, 31),
        months=MONTHS,
        by=(),
        segments=months,
        totals=pd.DataFrame([whole]),
    )


def judged(came: list[float]) -> dict[str, object]:
    one = made()
    return _judged(one, one.segments, np.array(came), one.totals.iloc[0].to_dict())


def test_a_forecast_that_held_is_said_to_be_better() -> None:
    row = judged([10.0] * MONTHS)
    assert (row["bias"], row["error"], row["inside80"]) == (0.0, 0.0, 1.0)
    assert row["error_last_three"] == row["error_last_year"] == 24.0
    assert row["verdict"] == "better than both naive forecasts"
    assert "outside" not in str(row["note"])


def test_a_naive_forecast_that_did_better_is_named() -> None:
    assert judged([8.0] * MONTHS)["verdict"] == (
        "the same months a year before did better"
    )
    assert judged([12.0] * MONTHS)["verdict"] == (
        "the mean of the last three months did better"
    )


def test_a_count_on_the_edge_of_a_band_counts_half() -> None:
    assert judged([14.0] * MONTHS)["inside80"] == pytest.approx(0.5)


def test_a_total_outside_its_band_is_said_to_be_missed() -> None:
    row = judged([18.0] * MONTHS)
    assert str(row["note"]).startswith("missed: 216 claims lie outside the 95 % band")


def test_more_misses_than_chance_explains_are_said() -> None:
    """8 of 12 outside 80 %: chance 0.0006 by the binomial; 4 of 12: 0.2."""
    few = judged([10.0] * 8 + [5.0, 15.0] * 2)
    many = judged([10.0] * 4 + [5.0, 15.0] * 4)
    told = "more months lie outside the 80 % band than chance explains"
    assert told not in str(few["note"])
    assert told in str(many["note"])


@pytest.mark.parametrize(
    ("as_of", "back", "then"),
    [
        (date(2026, 4, 30), 6, date(2025, 10, 31)),
        (date(2026, 4, 15), 6, date(2025, 9, 30)),
        (date(2026, 2, 28), 12, date(2025, 2, 28)),
    ],
)
def test_an_earlier_cut_off_is_a_month_end(as_of: date, back: int, then: date) -> None:
    assert earlier_cut_off(as_of, back) == then
