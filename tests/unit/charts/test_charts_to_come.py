"""The fan and the test of an earlier forecast: lines, bands, sums."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import fixture_monthly
import fixture_to_come
import pytest

from claimlens.charts import monthly_to_come
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.results import ChartHtml


def month_with(**changes: object) -> MonthlyInputs:
    return fixture_monthly.build(to_come=fixture_to_come.build(**changes))


def drawn(chart: ChartHtml | None) -> ChartHtml:
    assert chart is not None
    return chart


def rows(chart: ChartHtml, *, narrow: bool = False) -> Iterator[dict[str, Any]]:
    """Yield every row of the data drawn."""
    spec = json.loads((chart.spec_narrow or "") if narrow else chart.spec)
    for values in spec["datasets"].values():
        yield from values


@pytest.fixture(scope="module")
def fan() -> ChartHtml:
    return drawn(monthly_to_come.fan_chart(fixture_monthly.build().to_come, "fan"))


@pytest.fixture(scope="module")
def tested() -> ChartHtml:
    return drawn(monthly_to_come.tested_chart(fixture_monthly.build(), "tested"))


def test_the_fan_begins_where_the_history_ends(fan: ChartHtml) -> None:
    past = sorted({row["month"] for row in rows(fan) if "n" in row})
    ahead = sorted({row["month"] for row in rows(fan) if "upper95" in row})
    assert (past[0], past[-1]) == ("2024-04", "2026-03")
    assert (ahead[0], ahead[-1]) == ("2026-04", "2027-03")


def test_the_wider_band_is_the_lighter_one_and_lies_behind(fan: ChartHtml) -> None:
    layers = json.loads(fan.spec)["layer"]
    areas = [
        (layer["encoding"]["y"]["field"], layer["mark"]["opacity"])
        for layer in layers
        if layer["mark"]["type"] == "area"
    ]
    assert areas == [("lower95", 0.5), ("lower80", 1.0)]


def test_what_is_reported_is_solid_and_what_is_expected_dashed(fan: ChartHtml) -> None:
    lines = {
        layer["encoding"]["y"]["field"]: "strokeDash" in layer["mark"]
        for layer in json.loads(fan.spec)["layer"]
        if layer["mark"]["type"] == "line"
    }
    assert lines == {"expected": True, "n": False}


def test_the_axis_begins_at_nothing_and_holds_every_limit(fan: ChartHtml) -> None:
    low, high = json.loads(fan.spec)["layer"][0]["encoding"]["y"]["scale"]["domain"]
    assert low == 0
    assert high >= max(row["upper95"] for row in rows(fan) if "upper95" in row)


def test_a_phone_shows_one_year_of_history(fan: ChartHtml) -> None:
    past = {row["month"] for row in rows(fan, narrow=True) if "n" in row}
    assert len(past) == 12


def test_what_a_month_has_already_is_added_in_the_drawing() -> None:
    months = fixture_to_come.build().months_to_come
    months.loc[0, "so_far"] = 40.0
    inputs = month_with(part_month=True, months_to_come=months)
    chart = drawn(monthly_to_come.fan_chart(inputs.to_come, "fan"))
    [first] = [
        row for row in rows(chart) if row["month"] == "2026-04" and "upper95" in row
    ]
    assert first["expected"] == pytest.approx(136.0)
    assert first["lower95"] == pytest.approx(40.0 + 96.0 - 21.3)
    # the table keeps them apart
    [line] = [line for line in chart.table.rows if line[0] == "2026-04"]
    assert line[1:3] == (40.0, 96.0)


def test_the_table_of_the_fan_has_both_halves(fan: ChartHtml) -> None:
    lines = fan.table.rows
    assert len(lines) == 36
    assert lines[0][1:] == (88.0, None, None, None, None, None)
    assert lines[-1][:3] == ("2027-03", None, 57.5)


def test_the_oldest_forecast_is_the_one_drawn(tested: ChartHtml) -> None:
    months = {
        row["month"] for row in rows(tested) if "upper95" in row and "month" in row
    }
    assert (min(months), max(months), len(months)) == ("2025-04", "2026-03", 12)
    assert len(tested.table.rows) == 18, "the table has the other one too"


def test_sums_of_all_ways_stand_beside_what_came(tested: ChartHtml) -> None:
    ways = {
        row["way"]: row for row in rows(tested) if "expected" in row and "way" in row
    }
    assert len(ways) == 3
    forecast = ways["the forecast, with both bands"]
    assert forecast["expected"] == pytest.approx(12 * 104.0 - 0.8 * 66, rel=1e-5)
    assert forecast["lower95"] == pytest.approx(12 * 89.1, rel=1e-5)
    naive = ways["mean of the three months before"]
    assert naive["expected"] == pytest.approx(12 * 113.1, rel=1e-5)
    assert naive["lower95"] is None
    assert {row["came"] for row in rows(tested) if "came" in row} == {1212}


def test_the_panel_counts_the_months_inside(tested: ChartHtml) -> None:
    """Each third month 24 claims more came than expected; the band ends at 22.6."""
    panels = json.loads(tested.spec)["concat"]
    assert panels[0]["title"]["subtitle"] == "8 of 12 months inside the 95 % band"


def test_nothing_to_tell_has_no_chart() -> None:
    inputs = fixture_monthly.build(to_come=fixture_to_come.nothing("Too few claims."))
    assert monthly_to_come.fan_chart(inputs.to_come, "fan") is None
    assert monthly_to_come.tested_chart(inputs, "tested") is None
