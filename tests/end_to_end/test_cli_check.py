"""A warehouse that does not hold together is told, and no report is made from it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens.cli import app
from claimlens.errors import CheckError

COLUMNS = [
    "identity",
    "meaning",
    "compared",
    "found",
    "expected",
    "state",
    "breaking",
]


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def own(filled: Path, tmp_path: Path) -> Path:
    """Copy the workspace, for tests that spoil it."""
    return Path(shutil.copytree(filled, tmp_path / "ws"))


def tamper(workspace: Path, sql: str) -> None:
    with duckdb.connect(str(workspace / "warehouse.duckdb")) as connection:
        connection.execute(sql)


def test_a_sound_warehouse_holds_every_identity(filled: Path) -> None:
    result = run("check", "--workspace", filled, "--format", "json")
    assert result.exit_code == 0, result.output
    rows = json.loads(result.stdout)
    assert list(rows[0]) == COLUMNS
    assert {row["state"] for row in rows} == {"held"}
    assert all(row["meaning"] and row["compared"] for row in rows)
    by_name = {row["identity"]: row for row in rows}
    assert by_name["claims_read_once"]["expected"] > 100
    assert by_name["failures_add_up"]["expected"] > 100
    assert by_name["units_add_up"]["expected"] > 900


TAMPERED = {
    "row_account": "update batches set rows_read = rows_read + 1 where batch = 1",
    "rejects_counted": "insert into rejected_rows values (99, 1, 'a', 'b', 'c')",
    "batch_digests": "update batches set sha256 = 'none' where batch = 1",
    "flags_placed": "create or replace view flags_by_kind as select 'claims' as kind, "
    "'X-1' as subject, 'X-1' as claim_no, '' as serial, '' as column_name, "
    "'' as value, '' as reason",
    "classified_once": "insert into classifications from classifications limit 1",
    "views_hold_rows": "create or replace view claims_now as select * exclude "
    "(row_key) from claims_current where claim_no <> (select min(claim_no) from "
    "claims_current)",
    "told_once": "insert into alarms_told values ('safety', 'X'), ('safety', 'X')",
    "one_current": "insert into units_current from units_current limit 1",
    "current_of_versions": "delete from parts_current where part_no = (select "
    "min(part_no) from parts_current)",
    "versions_of_files": "update units_versions set batch = 77 where row_key = "
    "(select min(row_key) from units_versions)",
    "versions_in_order": "insert into units_versions from units_versions limit 1",
    "current_is_newest": "update claims_current set cost_total = 1 where claim_no = "
    "(select min(claim_no) from claims_current)",
    "claims_in_sight": "insert into claims_current from claims_current limit 1",
}


@pytest.mark.parametrize("identity", TAMPERED)
def test_a_warehouse_that_was_tampered_with_is_told(own: Path, identity: str) -> None:
    tamper(own, TAMPERED[identity])
    result = run("check", "--workspace", own, "--format", "json")
    assert result.exit_code == 1
    broken = {
        row["identity"]: row
        for row in json.loads(result.stdout)
        if row["state"] == "broken"
    }
    assert identity in broken
    row = broken[identity]
    assert row["breaking"] or row["found"] != row["expected"]
    assert identity in result.stderr
    assert "Traceback" not in result.stderr


def test_the_keys_that_break_an_identity_are_named(own: Path) -> None:
    tamper(own, "delete from parts_current")
    table = claimlens.open(own).check().set_index("identity")
    told = str(table.loc["current_of_versions", "breaking"])
    assert told.startswith("parts ")
    assert told.count(",") == 4
    assert " more" in told


def test_without_a_claim_the_counts_are_not_judged(tmp_path: Path) -> None:
    run("init", tmp_path / "ws")
    file = tmp_path / "units.csv"
    file.write_text("serial,model,model_year\nU1,A,2024\n", encoding="utf-8")
    run("ingest", file, "--workspace", tmp_path / "ws")
    result = run("check", "--workspace", tmp_path / "ws", "--format", "json")
    assert result.exit_code == 0, result.output
    states = {row["identity"]: row["state"] for row in json.loads(result.stdout)}
    assert states["counts"] == "not judged"
    assert states["row_account"] == "held"


def test_a_run_makes_no_report_from_a_broken_warehouse(own: Path) -> None:
    workspace = claimlens.open(own)
    out = own / "out"
    out.mkdir(exist_ok=True)
    old = out / "monthly-2026-04-30.html"
    old.write_text("the report of before", encoding="utf-8")
    tamper(own, TAMPERED["row_account"])
    with pytest.raises(CheckError, match="row_account"):
        workspace.run()
    assert old.read_text(encoding="utf-8") == "the report of before"
    assert sorted(path.name for path in out.iterdir()) == [
        "monthly-2026-04-30.html",
        "summary.eml",
        "summary.txt",
    ]
    summary = (out / "summary.txt").read_text(encoding="utf-8")
    assert "row_account" in summary
    log = (own / "log" / "run.jsonl").read_text(encoding="utf-8").splitlines()
    events = [json.loads(line) for line in log]
    (check,) = [event for event in events if event["event"] == "check"]
    assert check["broken"] == ["row_account"]
    # what it found before is told
    assert [event for event in events if event["event"] == "file"]


def test_a_day_of_failure_after_the_cut_off_loses_no_claim(tmp_path: Path) -> None:
    run("init", tmp_path / "ws")
    inbox = tmp_path / "ws" / "inbox"
    (inbox / "claims.csv").write_text(
        "claim_no,reported_on,serial,failed_on,status,narrative\n"
        "C1,2025-03-10,S1,2025-03-05,closed,Display dead\n"
        # a slip: the cut-off of the month lies between the report and this day
        "C2,2025-03-12,S1,2025-04-05,closed,Display dead\n"
        "C3,2025-04-10,S1,2025-04-05,closed,Motor noisy\n",
        encoding="utf-8",
    )
    (inbox / "units.csv").write_text(
        "serial,model,model_year,in_service_date\nS1,Lasto,2024,2024-04-01\n",
        encoding="utf-8",
    )
    run("ingest", "--workspace", tmp_path / "ws")
    result = run("check", "--workspace", tmp_path / "ws")
    assert result.exit_code == 0, result.output
    told = claimlens.open(tmp_path / "ws").tally(by="component")
    [row] = told[told["component"] == "display"].to_dict("records")
    assert (row["claims"], row["claims_counted"]) == (2, 1)


def test_check_asks_for_a_warehouse(tmp_path: Path) -> None:
    run("init", tmp_path / "ws")
    result = run("check", "--workspace", tmp_path / "ws")
    assert result.exit_code == 1
    assert "no warehouse" in result.stderr
