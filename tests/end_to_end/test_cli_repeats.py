"""The command about repairs as its users meet it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from claimlens.analysis.repeat_units import UNIT_COLUMNS
from claimlens.analysis.repeats import REPEAT_COLUMNS
from claimlens.cli import app


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_repeats_give_their_documented_keys_and_no_nan(filled: Path) -> None:
    result = run(
        "--workspace", filled, "repeats", "--by", "model", "--at", "6,12",
        "--format", "json",
    )  # fmt: skip
    assert result.exit_code == 0
    assert "NaN" not in result.stdout
    rows = json.loads(result.stdout)
    assert [row["at_months"] for row in rows[:2]] == [6.0, 12.0]
    for row in rows:
        assert list(row) == ["model", *REPEAT_COLUMNS]
        if row["mean_events"] is not None and row["mean_events_lower"] is not None:
            assert row["mean_events_lower"] <= row["mean_events"]
            assert row["mean_events"] <= row["mean_events_upper"]
        if row["first_time_fix"] is not None:
            assert row["first_time_fix"] == pytest.approx(1 - row["repeat_90"])


def test_filters_and_the_list_of_units_work_together(filled: Path) -> None:
    result = run(
        "repeats", "--units", "--least", "2", "--workspace", filled,
        "--component", "connector", "--format", "json",
    )  # fmt: skip
    assert result.exit_code == 0
    rows = json.loads(result.stdout)
    assert rows
    for row in rows:
        assert list(row) == list(UNIT_COLUMNS)
        assert row["component"] == "connector"
        assert row["events"] >= 2
        assert row["first_failed_on"] < row["last_failed_on"] <= row["as_of"]


def test_a_table_for_the_eye_is_the_default(filled: Path) -> None:
    result = run("repeats", "--workspace", filled, "--component", "motor")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[0].split()[:2] == ["component", "units"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--at", "twelve"], "ages must be numbers of months"),
        (["--at", "0"], "above 0"),
        (["--by", "colour"], "Cannot group by 'colour'"),
    ],
)
def test_what_cannot_be_answered_is_one_message(
    arguments: list[str], said: str, filled: Path
) -> None:
    result = run("repeats", "--workspace", filled, *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
