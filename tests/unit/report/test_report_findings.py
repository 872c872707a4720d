"""Sentences: what changed, what needs a decision, and what is not claimed."""

from __future__ import annotations

from dataclasses import replace

import fixture_monthly
import pandas as pd
import pytest

from claimlens.analysis import comparisons
from claimlens.charts import monthly as monthly_charts
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import findings, monthly_tables
from claimlens.report.late_section import late_section


@pytest.fixture
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


def rates(*rows: tuple[int, float, float, float, bool]) -> pd.DataFrame:
    """Build rates of one component: year, rate, lower, upper, mature."""
    return pd.DataFrame(
        [
            {
                "component": "throttle",
                "model_year": year,
                "rate": rate,
                "lower": lower,
                "upper": upper,
                "mature": mature,
                "units": 900,
                "claims": 9,
                "at_months": 12.0,
            }
            for year, rate, lower, upper, mature in rows
        ]
    )


def plain(text: str) -> str:
    """Turn no-break spaces into spaces."""
    return text.replace("\u00a0", " ")


def test_the_planted_model_year_is_found_and_no_other(inputs: MonthlyInputs) -> None:
    found = comparisons.high_model_years(inputs.rates_by_model_year)
    assert [(item.component, item.years) for item in found] == [
        ("wiring harness", (2024,))
    ]


def test_the_planted_build_months_are_found_and_no_other(inputs: MonthlyInputs) -> None:
    (run,) = comparisons.high_build_runs(inputs)
    assert run.component == "wiring harness"
    assert (f"{run.first:%Y-%m}", f"{run.last:%Y-%m}") == ("2024-03", "2024-06")
    assert run.months == 4
    assert run.claims < run.units


def test_overlapping_intervals_raise_no_question() -> None:
    frame = rates((2023, 0.02, 0.01, 0.03, True), (2024, 0.05, 0.029, 0.08, True))
    assert comparisons.high_model_years(frame) == []


def test_a_young_year_is_never_compared() -> None:
    frame = rates((2023, 0.02, 0.01, 0.03, True), (2024, 0.09, 0.07, 0.12, False))
    assert comparisons.high_model_years(frame) == []


def test_two_high_years_of_four_are_found_together() -> None:
    frame = rates(
        (2021, 0.02, 0.01, 0.03, True),
        (2022, 0.02, 0.01, 0.03, True),
        (2023, 0.09, 0.07, 0.12, True),
        (2024, 0.10, 0.08, 0.13, True),
    )
    (found,) = comparisons.high_model_years(frame)
    assert found.years == (2023, 2024)


def test_one_low_year_does_not_make_the_others_high() -> None:
    frame = rates(
        (2021, 0.02, 0.01, 0.03, True),
        (2022, 0.09, 0.07, 0.12, True),
        (2023, 0.09, 0.07, 0.12, True),
    )
    assert comparisons.high_model_years(frame) == []


def test_two_build_months_in_a_row_are_not_a_run(inputs: MonthlyInputs) -> None:
    months = inputs.build_months
    month = months["build_month"].dt.strftime("%Y-%m")
    two = replace(inputs, build_months=months[~month.isin(["2024-05", "2024-06"])])
    assert comparisons.high_build_runs(two) == []


def test_a_missing_month_breaks_a_run(inputs: MonthlyInputs) -> None:
    months = inputs.build_months
    month = months["build_month"].dt.strftime("%Y-%m")
    broken = replace(inputs, build_months=months[month != "2024-04"])
    assert comparisons.high_build_runs(broken) == []


def test_first_failures_of_the_last_month_are_not_compared(
    inputs: MonthlyInputs,
) -> None:
    """Fewer reports so far must not read as fewer failures."""
    (sentence,) = [t for t in findings.changes(inputs) if "first failure" in t]
    assert "seen about 35" in sentence
    assert "131" not in sentence
    assert "fewer" not in sentence


def test_the_first_month_has_nothing_to_compare_with(inputs: MonthlyInputs) -> None:
    first = replace(inputs, changes=replace(inputs.changes, last_month=None))
    said = plain(" ".join(findings.changes(first)))
    assert "no month before to compare" in said
    assert "more than" not in said


def test_one_claim_is_told_in_the_singular(inputs: MonthlyInputs) -> None:
    one = replace(inputs.changes.this_month, claims_reported=1, open_claims=1)
    said = " ".join(
        findings.changes(
            replace(inputs, changes=replace(inputs.changes, this_month=one))
        )
    )
    assert "1 claim was reported" in said
    assert "1 claim is open" in said


def test_another_reporting_speed_and_too_few_claims_are_said(
    inputs: MonthlyInputs,
) -> None:
    def said(month: MonthlyInputs) -> str:
        figure = late_section(month, monthly_charts.build(month)).figure
        assert figure is not None
        return plain(" ".join(figure.findings))

    assert "speed changed" not in said(inputs)
    other = replace(inputs, late=replace(inputs.late, speed_changed=True))
    assert "Reporting speed changed" in said(other)
    few = replace(inputs, late=replace(inputs.late, claims=7))
    assert "Only 7 claims tell how late reports come, 20 are needed" in said(few)
    assert "we have seen" not in said(few)


def test_a_month_less_than_half_reported_is_compared_with_no_other(
    inputs: MonthlyInputs,
) -> None:
    """The last month, 35 % reported, would be the lowest by far."""
    frame = inputs.late_months.copy()
    frame.loc[frame.index[-1], ["completed", "lower", "upper"]] = 7.0
    month = replace(inputs, late_months=frame)
    figure = late_section(month, monthly_charts.build(month)).figure
    assert figure is not None
    (sentence,) = [t for t in figure.findings if "at least half" in t]
    assert "100 to 130" in sentence


def test_a_month_that_is_wholly_reported_needs_no_word(inputs: MonthlyInputs) -> None:
    frame = inputs.late_months.assign(share_reported=1.0)
    whole = replace(inputs, late_months=frame)
    said = plain(" ".join(findings.changes(whole)))
    assert "we have seen" not in said
    assert "More may still be reported." in said


def test_months_counted_back_from_a_day_within_one_say_so(
    inputs: MonthlyInputs,
) -> None:
    frame = inputs.late_months.assign(
        month=inputs.late_months["month"] + pd.Timedelta(days=15)
    )
    section = late_section(replace(inputs, late_months=frame), {})
    assert "each begins on day 16" in section.basis
    assert "each begins" not in late_section(inputs, {}).basis


def test_a_restated_count_stands_with_both_values(inputs: MonthlyInputs) -> None:
    told = [plain(text) for text in findings.changes(inputs)]
    said = [text for text in told if text.startswith("Restated: the report")]
    assert said == [
        "Restated: the report of February 2026 showed 151 claims reported, it is 158 "
        "now."
    ]
    table = monthly_tables.changes(inputs)
    heads = [column.title for column in table.columns]
    place = heads.index("shown then")
    assert [row[place] for row in table.rows[:2]] == ["151", "58"]
    assert all(len(row) == len(heads) for row in table.rows)
    unknown = replace(inputs, changes=replace(inputs.changes, last_shown=None))
    assert not any("Restated: the" in text for text in findings.changes(unknown))
    first = replace(inputs, changes=replace(inputs.changes, last_month=None))
    assert not any("Restated: the" in text for text in findings.changes(first))
    assert all(len(row) == len(heads) for row in monthly_tables.changes(first).rows)
