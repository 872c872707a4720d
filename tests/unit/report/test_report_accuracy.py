"""What the page says of the classification: measured, or how to measure it."""

from __future__ import annotations

from dataclasses import replace

import fixture_monthly
import pytest

from claimlens.charts.monthly import build
from claimlens.monthly_inputs import AuditedShare, MonthlyInputs
from claimlens.report.monthly_sections import sections
from claimlens.results import ChartHtml

NOTE = "without the 60 claims of the review queue, none of which has been reviewed"


@pytest.fixture(scope="module")
def month() -> tuple[MonthlyInputs, dict[str, ChartHtml]]:
    inputs = fixture_monthly.build()
    return inputs, build(inputs)


def said(
    month: tuple[MonthlyInputs, dict[str, ChartHtml]], accuracy: AuditedShare | None
) -> str:
    inputs, charts = month
    inputs = replace(inputs, quality=replace(inputs.quality, accuracy=accuracy))
    [section] = [one for one in sections(inputs, charts) if one.id == "quality"]
    return " ".join(" ".join(section.reading).split())


def test_an_accuracy_that_nobody_measured_is_not_given(
    month: tuple[MonthlyInputs, dict[str, ChartHtml]],
) -> None:
    text = said(month, None)
    assert "has not been measured" in text
    assert "claimlens review export FILE" in text
    assert "component is right" not in text


def test_a_measured_accuracy_comes_with_its_limits_and_its_base(
    month: tuple[MonthlyInputs, dict[str, ChartHtml]],
) -> None:
    measured = AuditedShare(share=0.9312, lower=0.8989, upper=0.9551, audited=118)
    text = said(month, measured)
    assert "right for 93.1 % of the claims (89.8 to 95.6 %)" in text
    assert "118 randomly drawn claims that a person reviewed." in text
    assert "claimlens classify --quality" in text


def test_a_queue_that_nobody_reviewed_is_said_to_be_left_out(
    month: tuple[MonthlyInputs, dict[str, ChartHtml]],
) -> None:
    measured = AuditedShare(share=0.9, lower=0.8, upper=0.95, audited=40, note=NOTE)
    assert f"a person reviewed, {NOTE}." in said(month, measured)
