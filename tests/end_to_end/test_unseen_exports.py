"""Exports made without a look at the readers: described, loaded, compared.

The maker plays invented dealers in six languages and thirteen shapes of file
and knows what must become of every physical row. Its words and forms are
common practice, no source; companies, people and numbers are invented.
"""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pytest
from export_forms import DATES
from export_maker import SHAPES, Export, Maker
from typer.testing import CliRunner, Result

from claimlens.cli import app

LANGUAGES = ("en", "de", "fr", "nl", "es", "it")
MONEY = ("amount_requested", "amount_approved", "cost_total")
SUMS = ("inserted", "updated", "unchanged", "superseded", "rejected")
ROWS = 100
SEED = 20240607


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def append_block(workspace: Path, path: Path) -> None:
    """Put the proposed source block, unedited, at the end of the settings."""
    proposed = run("describe", path, "--source-block")
    assert proposed.exit_code == 0, proposed.stderr
    with (workspace / "claimlens.toml").open("a", encoding="utf-8") as settings:
        settings.write(proposed.stdout)


def load(workspace: Path, path: Path) -> dict[str, Any]:
    """Load a file; return its account as claims."""
    loaded = run("ingest", path, "--workspace", workspace, "--format", "json")
    assert loaded.exit_code == 0, loaded.stderr
    accounts = json.loads(loaded.stdout)
    return next(one for one in accounts if one["kind"] in ("claims", "units"))


def query(workspace: Path, sql: str) -> list[dict[str, Any]]:
    """Ask the warehouse as any client would."""
    with duckdb.connect(str(workspace / "warehouse.duckdb"), read_only=True) as door:
        answer = door.execute(sql)
        names = [column[0] for column in answer.description]
        return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]


@pytest.fixture(scope="module")
def maker(tmp_path_factory: pytest.TempPathFactory) -> Maker:
    return Maker(tmp_path_factory.mktemp("unseen"), SEED, count=ROWS)


@pytest.fixture(scope="module")
def exports(maker: Maker) -> dict[str, Export]:
    """Write every shape, each in the next language."""
    made = {"register": maker.register("de"), "undecided": maker.undecided("fr")}
    for index, shape in enumerate(SHAPES):
        made[shape] = maker.make(shape, LANGUAGES[index % len(LANGUAGES)])
    return made


@pytest.fixture(scope="module")
def registered(exports: dict[str, Export], maker: Maker) -> Path:
    """Make a workspace that holds the unit register."""
    folder = maker.folder / "ws"
    assert run("init", folder).exit_code == 0
    append_block(folder, exports["register"].path)
    assert load(folder, exports["register"].path)["inserted"] == ROWS
    return folder


@pytest.fixture
def workspace(registered: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(registered, tmp_path / "ws"))


@dataclass(frozen=True)
class Loaded:
    """An export after one load into a workspace of its own."""

    export: Export
    workspace: Path
    account: dict[str, Any]


@pytest.fixture(scope="module", params=SHAPES)
def loaded(
    request: pytest.FixtureRequest, exports: dict[str, Export], registered: Path
) -> Loaded:
    """Describe and load one shape, its block unedited."""
    export = exports[request.param]
    folder = registered.with_name(f"ws_{export.shape}")
    shutil.copytree(registered, folder)
    append_block(folder, export.path)
    return Loaded(export, folder, load(folder, export.path))


def wrong_fields(export: Export, row: dict[str, object], got: dict[str, object]) -> str:
    """Name the fields of a loaded claim that differ from the truth."""
    wrong = [
        name
        for name in ("serial", *DATES, "status", "model", "part_no")
        if name in export.headers and got[name] != row[name]
    ]
    if row["amount"] not in [got[name] for name in MONEY]:
        wrong.append("amount")
    if got["currency"] != row["currency"]:
        wrong.append("currency")
    return ", ".join(wrong)


def test_an_unseen_export_loads_right_with_its_block_unedited(loaded: Loaded) -> None:
    claims = {
        row["claim_no"]: row for row in query(loaded.workspace, "from claims_now")
    }
    wrong = {}
    for row in loaded.export.rows:
        if row.verdict == "accept":
            got = claims.get(row.values["claim_no"])
            fields = wrong_fields(loaded.export, row.values, got) if got else "missing"
            if fields:
                wrong[row.number] = fields
    assert wrong == {}


def test_the_account_of_an_unseen_export_equals_the_count(loaded: Loaded) -> None:
    account, export = loaded.account, loaded.export
    assert account["rows_read"] == len(export.rows)
    assert account["rows_read"] == sum(account[name] for name in SUMS)
    assert account["skipped_lines"] == export.skipped
    older = sum(row.verdict == "superseded" for row in export.rows)
    assert account["superseded"] == older


def test_every_spoilt_row_of_an_unseen_export_is_rejected_or_flagged(
    loaded: Loaded,
) -> None:
    rejected = {row["row"] for row in query(loaded.workspace, "from rejects")}
    flagged = {row["claim_no"] for row in query(loaded.workspace, "from flags")}
    unnoticed = {
        row.number: row.why
        for row in loaded.export.rows
        if row.verdict == "bad"
        and row.number not in rejected
        and row.values["claim_no"] not in flagged
    }
    assert unnoticed == {}


def test_a_second_load_of_an_unseen_export_changes_no_byte(loaded: Loaded) -> None:
    before = (loaded.workspace / "warehouse.duckdb").read_bytes()

    second = load(loaded.workspace, loaded.export.path)

    assert (loaded.workspace / "warehouse.duckdb").read_bytes() == before
    assert second["inserted"] == second["updated"] == 0
    assert second["rows_read"] == loaded.account["rows_read"]
    assert second["unchanged"] == loaded.account["inserted"]


def test_the_register_is_right_in_every_field(
    exports: dict[str, Export], registered: Path
) -> None:
    export = exports["register"]
    units = {row["serial"]: row for row in query(registered, "from units_now")}
    for row in export.rows:
        got = units[row.values["serial"]]
        assert {name: got[name] for name in export.headers} == row.values


def test_dates_that_read_both_ways_are_refused_with_column_and_remedy(
    exports: dict[str, Export], workspace: Path
) -> None:
    export = exports["undecided"]
    append_block(workspace, export.path)
    before = (workspace / "warehouse.duckdb").read_bytes()

    refused = run("ingest", export.path, "--workspace", workspace)

    assert refused.exit_code == 2
    message = " ".join(refused.stderr.split())
    assert any(
        export.headers[name] in message for name in DATES if name in export.headers
    )
    assert "date_format" in message
    assert (workspace / "warehouse.duckdb").read_bytes() == before


def test_the_commented_line_of_the_block_is_the_remedy(
    exports: dict[str, Export], workspace: Path
) -> None:
    export = exports["undecided"]
    append_block(workspace, export.path)
    settings = workspace / "claimlens.toml"
    said, count = re.subn(
        r"(?m)^#\s*date_format = .*$",
        'date_format = "dd/mm/yyyy"',
        settings.read_text(encoding="utf-8"),
    )
    settings.write_text(said, encoding="utf-8")

    load(workspace, export.path)

    assert count >= 1
    reported = {
        row["claim_no"]: row["reported_on"]
        for row in query(workspace, "from claims_now")
    }
    for row in export.rows:
        if row.verdict == "accept":
            assert reported[row.values["claim_no"]] == row.values["reported_on"]
