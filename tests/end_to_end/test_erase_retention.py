"""Texts and numbers of claims go when the period for which they are kept is over."""

from __future__ import annotations

import json

import pytest
from erase_desk import (
    CLAIMS,
    SERIAL,
    claims,
    found_in,
    found_in_bytes,
    strings_of,
    text_of,
    texts_of_files,
)
from typer.testing import CliRunner

import claimlens
from claimlens import handover
from claimlens.cli import app
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = "2025-12-31"
#: Nine months before it, CLAIMS[0] was reported, and after that CLAIMS[1].
MONTHS = 9
PAST = (CLAIMS[0], "zirbelholz", "wimmelkiste", "grunzend")


def keep_for(workspace: Workspace, months: int) -> Workspace:
    """Set the period."""
    path = workspace.folder / "claimlens.toml"
    text = path.read_text(encoding="utf-8")
    assert "# keep_months = 36" in text
    path.write_text(
        text.replace("# keep_months = 36", f"keep_months = {months}"), encoding="utf-8"
    )
    return claimlens.open(workspace.folder)


def told(workspace: Workspace) -> str:
    frames = (
        workspace.rates(by=["component", "model"], at=6),
        workspace.life(),
        workspace.tally(by=["component", "dealer"]),
        workspace.lag(),
        workspace.rates(as_known="2025-10-20", as_of="2025-10-20"),
    )
    return "".join(handover.to_json(handover.records(frame)) for frame in frames)


def shown(workspace: Workspace, secrets: tuple[str, ...] = PAST) -> list[str]:
    """Return files that show what is past its time."""
    files = texts_of_files(workspace.folder).items()
    held = found_in(strings_of(workspace.warehouse), secrets)
    held += found_in_bytes(workspace.warehouse, secrets)
    return held + [name for name, text in files if found_in(name + text, secrets)]


def test_without_a_period_a_run_keeps_everything(loaded: Workspace) -> None:
    outcome = loaded.run(as_of=AS_OF)
    assert outcome.expired == 0
    assert found_in(strings_of(loaded.warehouse), PAST) == list(PAST)
    assert not (loaded.folder / "log" / "erasures.jsonl").exists()
    with pytest.raises(InputError, match="No retention period"):
        loaded.erase(past_retention=True)


def test_a_run_erases_what_is_past_its_time_and_says_so(loaded: Workspace) -> None:
    before = told(loaded)
    due = [row for row in claims(newest=True) if row["reported_on"] < "2025-03-31"]
    workspace = keep_for(loaded, MONTHS)
    outcome = workspace.run(as_of=AS_OF)
    assert outcome.expired == len(due) == 14
    assert shown(workspace) == []
    assert told(workspace) == before
    # later claims keep number and text, and the unit of an earlier one is known
    assert found_in(strings_of(workspace.warehouse), ("tannhauser", SERIAL)) != []
    log = (workspace.folder / "log" / "run.jsonl").read_text(encoding="utf-8")
    lines = [json.loads(line) for line in log.splitlines()]
    (line,) = [one for one in lines if one["event"] == "retention"]
    assert (line["claims"], line["before"]) == (14, "2025-03-31")
    assert line["left"] == []
    proof = (workspace.folder / "log" / "erasures.jsonl").read_text(encoding="utf-8")
    assert json.loads(proof)["what"] == "claims past their retention period"
    assert len(json.loads(proof)["digests"]) == 14
    assert set(workspace.check()["state"]) <= {"held", "not judged"}
    assert workspace.run(as_of=AS_OF).expired == 0
    assert len(proof.splitlines()) == 1


def test_an_export_that_comes_again_is_written_again(loaded: Workspace) -> None:
    workspace = keep_for(loaded, MONTHS)
    workspace.run(as_of=AS_OF)
    again = workspace.folder / "inbox" / "claims_3.csv"
    again.write_text(text_of(claims(newest=True), ";"), encoding="utf-8")
    outcome = workspace.run(as_of=AS_OF)
    assert outcome.expired == 0
    assert sum(one.erased for one in outcome.loaded.accounts) == 14
    assert shown(workspace) == []
    assert CLAIMS[1] in again.read_text(encoding="utf-8")


def test_a_date_in_the_future_erases_no_more_than_today(loaded: Workspace) -> None:
    workspace = keep_for(loaded, 600)
    before = workspace.warehouse.read_bytes()
    assert len(workspace.erase(past_retention=True, as_of="2999-12-31")) == 0
    assert workspace.warehouse.read_bytes() == before


def test_the_command_erases_what_is_past_its_time(loaded: Workspace) -> None:
    keep_for(loaded, 1)
    arguments = ["erase", "--past-retention", "--workspace", str(loaded.folder)]
    before = loaded.warehouse.read_bytes()
    tried = CliRunner().invoke(app, [*arguments, "--dry-run"])
    assert tried.exit_code == 0, tried.output
    assert "nothing was changed" in tried.stderr
    assert loaded.warehouse.read_bytes() == before
    done = CliRunner().invoke(app, [*arguments, "--yes", "--format", "json"])
    assert done.exit_code == 0, done.output
    touched = {row["place"]: row["touched"] for row in json.loads(done.stdout)}
    assert touched["warehouse: claims_current"] == 53
    assert found_in(strings_of(loaded.warehouse), ("tannhauser", CLAIMS[1])) == []


def test_a_period_and_a_serial_together_are_refused(loaded: Workspace) -> None:
    workspace = keep_for(loaded, MONTHS)
    with pytest.raises(InputError, match="together with the retention period"):
        workspace.erase(serials=SERIAL, past_retention=True)
