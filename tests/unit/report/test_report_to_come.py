"""What is still to come, on the page: words, tables, banner, and silence."""

from __future__ import annotations

from dataclasses import replace

import fixture_monthly
import fixture_to_come
import pandas as pd
import pytest
from page_reader import Element, read

from claimlens.charts.monthly import build
from claimlens.errors import ReportError
from claimlens.monthly_inputs import TO_COME_COLUMNS, MonthlyInputs, ToCome
from claimlens.report import findings
from claimlens.report.decisions import decisions
from claimlens.report.monthly import render_monthly
from claimlens.report.to_come_section import to_come_sections
from claimlens.report.view import SectionView

HOSTILE = '"><img src=x onerror=broken()>'


def month_with(**changes: object) -> MonthlyInputs:
    return fixture_monthly.build(to_come=fixture_to_come.build(**changes))


def judged(*rows: dict[str, object]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=list(TO_COME_COLUMNS["backtests"]))


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def told(section: SectionView) -> str:
    return plain(" ".join(section.lead))


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


@pytest.fixture(scope="module")
def sections(inputs: MonthlyInputs) -> tuple[SectionView, ...]:
    return to_come_sections(inputs, {})


def section_of(page: str, name: str) -> Element:
    return next(e for e in read(page).all("section") if e.attributes.get("id") == name)


def test_the_months_to_come_are_told_with_limits(
    sections: tuple[SectionView, ...],
) -> None:
    """The sum of 96, 92.5, ... 57.5 is 921; limits are those of the sum, outward."""
    said = told(sections[0])
    assert said.startswith(
        "921 claims are expected in the 12 months from April 2026 to March 2027: "
        "857–985 with 80 % chance, 826–1,022 with 95 %; the last 12 months brought "
    )
    assert (
        "Most are expected from battery pack (262), wiring harness (204) and brake "
        "hydraulic (100)." in said
    ), "unclassified claims are no component"
    assert said.endswith("Units sold after the cut-off are not in it.")
    assert sections[0].reading[0].startswith("An estimate, not a promise.")


def test_the_backtest_stands_next_to_the_forecast(
    sections: tuple[SectionView, ...],
) -> None:
    said = told(sections[0])
    assert "that of 12 months ago expected 1,181 claims and 1,212 came, inside" in said
    assert "the naive one, the mean of the three months before, did better" in said
    assert [section.id for section in sections] == ["to-come", "forecast-tested"]


def test_a_naive_forecast_that_did_better_is_named(
    sections: tuple[SectionView, ...],
) -> None:
    said = told(sections[1])
    assert (
        "The forecast of 12 months ago expected 1,181 claims up to the cut-off; 1,212 "
        "came, inside the band of 80 % (1,106–1,256). It was nearer than both naive "
        "forecasts: off by 31, the mean of the three months before by 145, the same "
        "months a year before by 244." in said
    )
    assert (
        "A naive forecast did better: the mean of the three months before was off by "
        "9, the forecast by 16." in said
    )
    row = fixture_to_come.backtest(
        error=50.0,
        error_last_year=3.0,
        verdict="the same months a year before did better",
    )
    again = to_come_sections(month_with(backtests=judged(row)), {})
    assert "the same months a year before was off by 3, the forecast by 50" in told(
        again[1]
    )


@pytest.mark.parametrize(
    ("actual", "said"),
    [
        (1_212.0, "inside the band of 80 % (1,106–1,256)"),
        (1_280.0, "inside the band of 95 % (1,069–1,295)"),
        (1_300.0, "outside the band of 95 % (1,069–1,295)"),
        (1_000.0, "outside the band of 95 % (1,069–1,295)"),
    ],
)
def test_the_band_of_what_came_is_named(actual: float, said: str) -> None:
    frame = judged(fixture_to_come.backtest(actual=actual))
    section = to_come_sections(month_with(backtests=frame), {})[1]
    assert said in told(section)
    assert bool(section.banner) == ("outside" in said)


def test_a_miss_is_a_banner_and_asks_for_a_decision(inputs: MonthlyInputs) -> None:
    missed = month_with(backtests=judged(fixture_to_come.backtest(actual=1_300.0)))
    said = (
        "Last year's forecast missed: 1,300 claims came where 1,069–1,295 were "
        "expected with 95 % chance."
    )
    assert said in [plain(one.sure) for one in decisions(missed).now]
    assert not any("forecast missed" in one.what for one in decisions(inputs).now)
    page = render_monthly(missed, {})
    for name in ("to-come", "forecast-tested"):
        [banner] = [
            e
            for e in section_of(page, name).all("p")
            if e.attributes.get("class") == "banner"
        ]
        assert said in plain(banner.text)
    assert 'class="banner"' not in render_monthly(inputs, {})


def test_only_last_years_miss_is_a_banner() -> None:
    rows = (fixture_to_come.backtest(6, actual=900.0), fixture_to_come.backtest(12))
    section = to_come_sections(month_with(backtests=judged(*rows)), {})[0]
    assert section.banner == ""
    assert "900 came, outside the band of 95 %" in told(section)


def test_the_first_screen_tells_the_year_to_come(inputs: MonthlyInputs) -> None:
    [told] = [said for said in findings.changes(inputs) if said.startswith("To come")]
    assert plain(told) == (
        "To come: 921 claims are expected in the 12 months to March 2027 (857–985 "
        "with 80 % chance), units sold later not counted."
    )


def test_sums_are_added_up_month_by_month(sections: tuple[SectionView, ...]) -> None:
    months, components = sections[0].tables
    assert [plain(cell) for cell in months.rows[0]] == [
        "April 2026", "96", "81–111", "74–119", "96", "81–111", "74–119",
    ]  # fmt: skip
    assert months.rows[-1][4] == "921"
    assert components.rows[0][0] == "battery pack"
    assert components.rows[-1][:3] == ("mudguard", "4", "3.4")
    # the limits of all are those of the added draws, not of added limits
    assert components.total[2:4] == ("921", "857–985")
    # 120 a claim, of the 689.5 claims of the five components
    assert plain(components.total[-1]) == "82,740 EUR"


def test_costs_that_nobody_knows_are_not_told() -> None:
    frame = fixture_to_come.build().components_to_come
    one = month_with(components_to_come=frame.assign(cost=[float("nan"), *[1.0] * 4]))
    table = to_come_sections(one, {})[0].tables[1]
    assert (table.rows[0][-1], table.total[-1]) == ("–", "–")
    none = frame.assign(cost=float("nan"), currency=None)
    table = to_come_sections(month_with(components_to_come=none), {})[0].tables[1]
    assert [column.title for column in table.columns][-1] == "95\N{NO-BREAK SPACE}%"


def test_a_box_says_what_is_assumed(sections: tuple[SectionView, ...]) -> None:
    box = sections[0].box
    assert box is not None
    assert box.table is not None
    values = {name: plain(value) for name, value in box.table.rows}
    assert values["units under cover"] == "13,480"
    assert values["units shipped, not yet in service"] == "312"
    assert values["units sold after the cut-off"] == "none: future sales are not in it"
    assert values["late reports"] == (
        "37 % of a month's failures are reported in it, all within 5 months after it"
    )
    assert values["oldest age"].startswith("24 months in service under cover")
    assert (values["draws"], values["seed"]) == ("4,000", "20240607")
    assert not any("none has reached" in line for line in box.lines)


def test_ages_that_none_has_reached_are_owned_up_to() -> None:
    taken = fixture_to_come.build().assumptions
    assert taken is not None
    young = month_with(assumptions=replace(taken, oldest_seen=11))
    box = to_come_sections(young, {})[0].box
    assert box is not None
    assert any("ages that none has reached yet" in line for line in box.lines)


def test_the_rest_of_a_month_is_called_so() -> None:
    months = fixture_to_come.build().months_to_come
    months.loc[0, "so_far"] = 40.0
    inputs = month_with(part_month=True, months_to_come=months)
    charts = build(inputs)
    section = to_come_sections(inputs, charts)[0]
    assert "in the 12 months from the rest of April 2026" in told(section)
    assert section.figure is not None
    said = plain(" ".join(section.figure.findings))
    assert "96 claims (81–111) are expected in the rest of April 2026" in said
    assert "Of April 2026 40 claims are reported already; the chart adds" in said


def test_silence_has_its_reason() -> None:
    why = "No unit in sight has a day in service under cover."
    inputs = fixture_monthly.build(to_come=fixture_to_come.nothing(why))
    [section] = to_come_sections(inputs, build(inputs))
    assert section.figure is None
    assert section.empty == f"Nothing is said of claims to come. {why}"
    page = section_of(render_monthly(inputs, {}), "to-come")
    assert why in page.text
    assert not any(said.startswith("To come") for said in findings.changes(inputs))


def without_tests(**changes: object) -> ToCome:
    empty = fixture_to_come.nothing("")
    frames = {name: getattr(empty, name) for name in ("backtests", "backtest_months")}
    return fixture_to_come.build(**frames | changes)


def test_a_forecast_that_cannot_be_tested_says_why() -> None:
    why = "No forecast can be made as of 6 months ago: no claim was known."
    inputs = fixture_monthly.build(to_come=without_tests(not_tested=why))
    first, second = to_come_sections(inputs, build(inputs))
    assert first.figure is not None
    assert second.figure is None
    assert second.empty == f"No earlier forecast can be tested. {why}"
    assert "How earlier forecasts did" not in told(first)


def test_one_test_that_fails_does_not_hide_the_other() -> None:
    why = "No forecast can be made as of 12 months ago: no claim was known."
    frame = judged(fixture_to_come.backtest(6))
    section = to_come_sections(month_with(backtests=frame, not_tested=why), {})[1]
    assert told(section).endswith(why)


def test_names_are_text_on_the_page() -> None:
    frame = fixture_to_come.build().components_to_come
    frame.loc[0, "component"] = HOSTILE
    page = render_monthly(month_with(components_to_come=frame), {})
    assert "<img" not in page
    assert HOSTILE in section_of(page, "to-come").text


def test_frames_are_checked_and_put_in_order() -> None:
    frame = fixture_to_come.build().months_to_come
    shuffled = frame.iloc[::-1].astype({"expected": object})
    settled = fixture_to_come.build(months_to_come=shuffled).months_to_come
    pd.testing.assert_frame_equal(settled, frame)
    with pytest.raises(ReportError, match="months_to_come lacks total_upper95"):
        fixture_to_come.build(months_to_come=frame.drop(columns="total_upper95"))
