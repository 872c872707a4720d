"""The command about late reports, on a small invented world."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens.analysis.late import late_months
from claimlens.analysis.late_reports import count_now
from claimlens.analysis.question import ask
from claimlens.cli import app
from claimlens.demo import load_truth, make_world, write_canonical

MONTH_KEYS = [
    "month",
    "claims",
    "share_reported",
    "completed",
    "lower",
    "upper",
    "first_shown",
    "last_shown",
    "restated",
    "lag_claims",
    "note",
    "as_of",
]
DELAY_KEYS = [
    "delay_months",
    "claims",
    "share_reported",
    "lower",
    "upper",
    "factor",
    "factor_lower",
    "factor_upper",
    "lag_claims",
    "note",
    "as_of",
]


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lag") / "ws"
    assert run("init", folder).exit_code == 0
    write_canonical(make_world(load_truth(), 5, units=9000), folder / "inbox")
    assert run("ingest", "--workspace", folder).exit_code == 0
    return folder


def test_months_have_their_documented_keys_and_no_nan(filled: Path) -> None:
    result = run("--workspace", filled, "lag", "--format", "json")
    assert result.exit_code == 0, result.stderr
    rows = json.loads(result.stdout)
    assert list(rows[0]) == MONTH_KEYS
    assert len(rows) == 24
    assert "NaN" not in result.stdout
    assert rows[-1]["first_shown"] == rows[-1]["claims"]
    assert rows[0]["first_shown"] is None
    assert rows[0]["restated"] is False


def test_the_planted_lag_of_the_demo_is_found(filled: Path) -> None:
    """Shares 35, 75, 90, 95, 98 and 100 per cent: the written truth of the demo."""
    result = run("--workspace", filled, "lag", "--delays", "--format", "json")
    rows = json.loads(result.stdout)
    assert list(rows[0]) == DELAY_KEYS
    truth = load_truth().reporting
    misses = [
        share
        for row, share in zip(rows, truth, strict=False)
        if not row["lower"] - 0.01 <= share <= row["upper"] + 0.01
    ]
    assert len(truth) >= 6
    assert len(misses) <= 1
    assert rows[len(truth)]["share_reported"] == pytest.approx(1.0, abs=0.01)


def test_groups_and_filters_of_the_command_reach_the_answer(filled: Path) -> None:
    by_region = run("--workspace", filled, "lag", "--by", "region", "--format", "csv")
    assert by_region.exit_code == 0, by_region.stderr
    rows = list(csv.DictReader(io.StringIO(by_region.stdout)))
    assert list(rows[0]) == ["region", *MONTH_KEYS]
    region = rows[0]["region"]
    one = run("--workspace", filled, "lag", "--region", region, "--format", "csv")
    own = list(csv.DictReader(io.StringIO(one.stdout)))
    assert [row["claims"] for row in own] == [
        row["claims"] for row in rows if row["region"] == region
    ][-len(own) :]


def test_a_supplier_is_refused_in_one_message(filled: Path) -> None:
    result = run("--workspace", filled, "lag", "--supplier", "Nobody")
    assert result.exit_code == 2
    assert result.stderr.startswith("claimlens: ")
    assert "supplier" in result.stderr


def test_months_completed_earlier_hold_what_came_since(filled: Path) -> None:
    """Stand back: complete the months of a year ago, and compare with today's count.

    Inspections, decisions and late reports have all come since.
    """
    workspace = claimlens.open(filled)

    def months(as_of: str | None) -> pd.DataFrame:
        with workspace._reading(ask(as_of=as_of)) as (session, scope):
            now = count_now(session, scope)
            return late_months(now, (), workspace.settings, scope).set_index("month")

    final = months(None)["claims"]
    inside, expected, seen = [], 0.0, 0
    for as_of in ("2024-11-30", "2025-02-28", "2025-05-31", "2025-08-31"):
        late = months(as_of).tail(3)
        now = final.loc[late.index]
        inside += list((late["lower"] <= now) & (now <= late["upper"]))
        expected += late["completed"].sum()
        seen += int(now.sum())
    assert expected / seen == pytest.approx(1.0, abs=0.1)
    assert sum(inside) >= 10  # of 12, at 95 %
