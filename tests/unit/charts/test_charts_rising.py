"""Charts of signals, windows and changes: shapes and words, not colours alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import fixture_monthly
import fixture_rising
import pandas as pd
import pytest

from claimlens.charts import monthly_rising, theme
from claimlens.monthly_inputs import MonthlyInputs, Rising
from claimlens.results import ChartHtml


def month_with(rising: Rising) -> MonthlyInputs:
    return fixture_monthly.build(rising=rising)


def drawn(chart: ChartHtml | None) -> ChartHtml:
    assert chart is not None
    return chart


def panels(chart: ChartHtml) -> list[dict[str, Any]]:
    found = json.loads(chart.spec)["concat"]
    assert isinstance(found, list)
    return found


def rows(chart: ChartHtml) -> Iterator[dict[str, Any]]:
    """Yield every row of the data drawn."""
    for values in json.loads(chart.spec)["datasets"].values():
        yield from values


@pytest.fixture(scope="module")
def signals() -> ChartHtml:
    return drawn(
        monthly_rising.signals_chart(fixture_monthly.build().rising, "signals")
    )


def test_panels_follow_the_list_of_signals(signals: ChartHtml) -> None:
    titles = [panel["title"]["text"] for panel in panels(signals)]
    assert titles == ["wiring harness", "connector", "charger"]
    assert panels(signals)[0]["title"]["subtitle"] == "12 seen, 3.0 expected"


def test_a_level_is_marked_where_it_was_first_reached(signals: ChartHtml) -> None:
    """Watch from the tenth month, alarm from the twelfth; in words and shapes."""
    words = {
        (row["month"], row["word"], row["observed"])
        for row in rows(signals)
        if "word" in row
    }
    assert ("2026-01", "watch", 10) in words
    assert ("2026-03", "alarm", 12) in words
    text = json.dumps(json.loads(signals.spec))
    assert "triangle-up" in text
    assert "diamond" in text


def test_two_levels_in_one_month_give_one_mark() -> None:
    frame = fixture_rising.build().signal_months
    frame = frame[frame["component"] == "connector"].assign(level="alarm")
    chart = monthly_rising.signals_chart(
        month_with(fixture_rising.build(signal_months=frame)).rising, "signals"
    )
    words = [row["word"] for row in rows(drawn(chart)) if "word" in row]
    assert words == ["alarm"]


def test_signals_without_a_course_have_no_chart() -> None:
    empty = fixture_rising.build().signal_months.iloc[:0]
    rising = fixture_rising.build(signal_months=empty)
    assert monthly_rising.signals_chart(month_with(rising).rising, "signals") is None


def test_the_table_behind_holds_every_month_end(signals: ChartHtml) -> None:
    assert len(signals.table.rows) == 3 * 12
    assert signals.table.rows[0] == ("wiring harness", "2025-04", 1, 0.25, "")


def test_months_of_a_window_are_hatched_and_named() -> None:
    inputs = fixture_monthly.build()
    chart = drawn(monthly_rising.windows_chart(inputs.rising, "production-windows"))
    assert [panel["title"]["text"] for panel in panels(chart)] == [
        "wiring harness",
        "connector",
    ]
    words = [row["month"] for row in rows(chart) if row.get("word") == "window"]
    assert words == ["2024-03", "2022-05"]
    striped = {row["month"] for row in rows(chart) if row.get("low", 0) > 0}
    assert {"2024-03", "2024-04", "2024-05", "2024-06", "2022-05"} <= striped
    assert {row[-1] for row in chart.table.rows} == {True, False}


def test_a_bar_is_failures_by_units() -> None:
    chart = drawn(monthly_rising.windows_chart(fixture_monthly.build().rising, "w"))
    for row in rows(chart):
        if "units" in row:
            assert row["rate"] == pytest.approx(row["observed"] / row["units"], 1e-5)
            assert row["level"] == pytest.approx(row["expected"] / row["units"], 1e-5)


def test_no_window_no_chart() -> None:
    rising = fixture_rising.build()
    empty = fixture_rising.build(windows=rising.windows.iloc[:0])
    assert monthly_rising.windows_chart(month_with(empty).rising, "w") is None


def test_a_change_is_drawn_with_its_verdict_and_words_at_the_lines() -> None:
    chart = drawn(
        monthly_rising.changes_chart(fixture_monthly.build().rising, "changes")
    )
    [panel] = panels(chart)
    assert panel["title"] == {
        "text": "DC-0412: connector",
        "subtitle": "improved; 0.4 times the rate before",
    }
    last = [row for row in rows(chart) if "y" in row]
    assert [row["side"] for row in last] == ["after", "before"]
    assert [row[1] for row in chart.table.rows] == [float(n) for n in range(1, 25)]


def test_words_of_lines_that_end_together_do_not_overlap() -> None:
    curves = fixture_rising.build().change_curves
    together = curves.assign(share=0.001 * curves["months"])
    chart = monthly_rising.changes_chart(
        month_with(fixture_rising.build(change_curves=together)).rising, "changes"
    )
    first, second = (row["y"] for row in rows(drawn(chart)) if "y" in row)
    assert abs(first - second) > 0.001


def test_changes_that_none_could_judge_have_no_chart() -> None:
    rising = fixture_rising.build()
    none = fixture_rising.build(change_curves=rising.change_curves.iloc[:0])
    assert monthly_rising.changes_chart(month_with(none).rising, "changes") is None


def test_level_marks_are_told_without_a_traffic_light(signals: ChartHtml) -> None:
    used = {light for light, _ in theme.TOKENS.values()}
    for word in ("red", "green", "yellow", "#ff0000", "#00ff00"):
        assert f'"{word}"' not in signals.spec
        assert word not in used


def test_the_same_rows_give_the_same_bytes(signals: ChartHtml) -> None:
    again = drawn(
        monthly_rising.signals_chart(fixture_monthly.build().rising, "signals")
    )
    assert again == signals
    assert isinstance(fixture_rising.build().signal_months, pd.DataFrame)
