"""A night's job that stops the morning: dangerous claims that no run has told."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens import answers, printing
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms
from claimlens.cli import app
from claimlens.monthly_inputs import Arrivals
from claimlens.monthly_inputs.frames import ARRIVAL_COLUMNS
from claimlens.start import create

NOTHING = Arrivals(
    findings=(), sources=pd.DataFrame(columns=ARRIVAL_COLUMNS["sources"])
)
CALM = ("C-1", "2026-04-02", "mudguard rattles")
SMOKE = ("C-2", "2026-05-04", "smoke came out of the seat box")


def run(folder: Path, *arguments: str) -> Result:
    return CliRunner().invoke(app, ["run", "--workspace", str(folder), *arguments])


def claims(folder: Path, name: str, *rows: tuple[str, str, str]) -> None:
    lines = ["claim_no,reported_on,narrative", *(",".join(row) for row in rows)]
    (folder / "inbox" / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture(scope="module", autouse=True)
def quick() -> Iterator[None]:
    """Leave out what takes a run its time: drawing the page, and reading the terms."""
    terms = load_terms(load_taxonomy())
    with pytest.MonkeyPatch.context() as patch:
        page = printing.MonthlyReport(
            page="a page",
            workbook=b"a workbook",
            news=printing.MonthNews(
                title="Warranty claims, April 2026: ws",
                as_of=date(2026, 4, 30),
                decisions=(),
                arrivals=NOTHING,
            ),
        )
        patch.setattr(printing, "monthly_report", lambda *given, **named: page)
        patch.setattr(answers, "terms_of", lambda settings, folder: terms)
        yield


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a workspace whose one run told of no danger."""
    folder = tmp_path_factory.mktemp("alarms") / "ws"
    create(folder)
    claims(folder, "april.csv", CALM)
    assert run(folder, "--fail-on-alarm").exit_code == 0
    return folder


@pytest.fixture
def folder(calm: Path, tmp_path: Path) -> Path:
    """Copy the calm workspace, for tests that change it."""
    return Path(shutil.copytree(calm, tmp_path / "ws"))


def test_a_new_dangerous_claim_ends_the_run_with_3_once(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    first = run(folder, "--fail-on-alarm")
    assert first.exit_code == 3
    assert "C-2, reported 2026-05-04, unit not told" in first.stderr
    assert "narrative: smoke" in first.stderr
    assert "came out of the seat box" not in first.stderr
    assert "Local law" in first.stderr
    assert "report: " in first.stdout
    again = run(folder, "--fail-on-alarm")
    assert again.exit_code == 0
    assert "danger" not in again.stderr


def test_a_danger_is_told_before_the_month_is_over(folder: Path) -> None:
    """The page ends with the last whole month; the alarm does not wait for it."""
    claims(folder, "may.csv", SMOKE, ("C-3", "2026-06-20", "tyre flat"))
    result = run(folder, "--fail-on-alarm", "--as-of", "2026-04-30")
    assert result.exit_code == 3
    assert "C-2" in result.stderr


def test_without_the_option_it_is_told_and_the_code_stays_0(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    result = run(folder)
    assert result.exit_code == 0
    assert "1 claim tells of a danger and no run has told of any before" in (
        result.stderr
    )
    assert run(folder, "--fail-on-alarm").exit_code == 0


def test_a_claim_that_turns_dangerous_later_is_new(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    assert run(folder, "--fail-on-alarm").exit_code == 3
    (folder / "inbox" / "findings.csv").write_text(
        "claim_no,inspected_on,finding,component,failure_mode\n"
        "C-1,2026-05-20,confirmed fault,frame,broken/cracked\n",
        encoding="utf-8",
    )
    result = run(folder, "--fail-on-alarm")
    assert result.exit_code == 3
    assert "and is new since the last run" in result.stderr
    assert "C-1" in result.stderr
    assert "C-2" not in result.stderr
    assert run(folder, "--fail-on-alarm").exit_code == 0


def test_a_danger_that_went_and_came_back_is_new_again(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    assert run(folder, "--fail-on-alarm").exit_code == 3
    claims(folder, "may2.csv", ("C-2", "2026-05-05", "seat box lid rattles"))
    assert run(folder, "--fail-on-alarm").exit_code == 0
    claims(folder, "may3.csv", ("C-2", "2026-05-06", "smoke after all"))
    assert run(folder, "--fail-on-alarm").exit_code == 3


def test_a_run_that_fails_keeps_its_code_and_tells_again_next_time(
    folder: Path,
) -> None:
    claims(folder, "may.csv", SMOKE)
    failed = run(folder, "--fail-on-alarm", "--as-of", "2019-01-31")
    assert failed.exit_code == 2
    assert "C-2" in failed.stderr
    assert run(folder, "--fail-on-alarm").exit_code == 3


def test_a_broken_file_keeps_the_code_of_a_failure(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    (folder / "inbox" / "april.csv").write_text(
        "claim_no,claim_no,reported_on\n1,2,2026-04-02\n", encoding="utf-8"
    )
    assert run(folder, "--fail-on-alarm").exit_code in (1, 2)
    claims(folder, "april.csv", CALM)
    assert run(folder, "--fail-on-alarm").exit_code == 3


def test_python_gets_the_same_alarms(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    workspace = claimlens.open(folder)
    (alarm,) = workspace.run().alarms
    assert (alarm.kind, alarm.subject) == ("dangerous claim", "C-2")
    assert workspace.run().alarms == ()


def test_the_table_of_claims_begins_with_the_dangerous_ones(folder: Path) -> None:
    claims(folder, "may.csv", SMOKE)
    run(folder)
    listed = ["classify", "--workspace", str(folder)]
    table = CliRunner().invoke(app, listed)
    first, second = table.stdout.splitlines()[1:3]
    assert first.startswith("C-2")
    assert second.startswith("C-1")
    assert "1 of 2 claims tells of a danger" in table.stderr
    assert "Local law" in table.stderr
    piped = CliRunner().invoke(app, [*listed, "--format", "csv"])
    assert [line.split(",")[0] for line in piped.stdout.splitlines()] == [
        "claim_no",
        "C-1",
        "C-2",
    ]
    assert piped.stderr == ""
