"""Warehouses of every earlier version are read, brought forward, kept and restored.

``tests/fixtures/warehouses/version-N.duckdb.xz`` are real files: each was made by the
last commit whose warehouses had that version, loading ``exports.zip`` beside them
into a new workspace (``claimlens init``, ``claimlens ingest``). The exports are those
of 160 invented units, written by the oldest of these commits:

    version  commit
    1        7f344ee
    2        e0b13a6
    3        63ae445
    4        5560adc
"""

from __future__ import annotations

import json
import lzma
import zipfile
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens.cli import app
from claimlens.db.schema import SCHEMA_VERSION

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures" / "warehouses"
OLDER = range(1, SCHEMA_VERSION)
# a claim that is there already, decided meanwhile, and a new one
LATER = """claim_no,reported_on,failed_on,model,model_year,narrative,status,updated_at
{known},{day},{day},{model},{year},charger gets hot and smells,approved,2026-06-30
LATER-1,{day},{day},{model},{year},brake lever broke off,approved,2026-06-30
"""


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def workspace(folder: Path) -> Path:
    """Make a workspace with the exports in its inbox."""
    assert run("init", folder).exit_code == 0
    with zipfile.ZipFile(FIXTURES / "exports.zip") as exports:
        exports.extractall(folder / "inbox")
    return folder


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Load the exports with the code of today."""
    folder = workspace(tmp_path_factory.mktemp("fresh") / "ws")
    assert run("ingest", "--workspace", folder).exit_code == 0
    return folder


def older(folder: Path, version: int) -> Path:
    """Make a workspace that holds a warehouse of an earlier version."""
    packed = FIXTURES / f"version-{version}.duckdb.xz"
    warehouse = workspace(folder) / "warehouse.duckdb"
    warehouse.write_bytes(lzma.decompress(packed.read_bytes()))
    return folder


def version_of(folder: Path) -> int:
    with duckdb.connect(str(folder / "warehouse.duckdb"), read_only=True) as connection:
        [(value,)] = connection.execute(
            "select value from meta where key = 'schema_version'"
        ).fetchall()
    return int(value)


def counts(folder: Path) -> pd.DataFrame:
    """Return what claims and units of all components come to."""
    own = claimlens.open(folder)
    rates = own.rates(by=["component", "model"], at=[3, 12])
    assert len(rates) > 5
    assert rates["claims"].sum() > 20
    return rates


def broken(folder: Path) -> list[str]:
    result = run("check", "--workspace", folder, "--format", "json")
    assert result.exit_code == 0, result.output
    return [row["identity"] for row in json.loads(result.stdout) if row["breaking"]]


def later_file(fresh: Path, folder: Path) -> Path:
    claims = pd.read_csv(fresh / "inbox" / "claims.csv", dtype="str")
    newest = claims.sort_values("reported_on").iloc[-1]
    units = pd.read_csv(fresh / "inbox" / "units.csv", dtype="str").iloc[0]
    path = folder / "later.csv"
    path.write_text(
        LATER.format(
            known=newest["claim_no"],
            day=newest["reported_on"],
            model=units["model"],
            year=units["model_year"],
        ),
        "utf-8",
    )
    return path


def test_there_is_a_warehouse_of_each_earlier_version() -> None:
    """Keep one before the next version is made: see the docstring above."""
    kept = {path.name for path in FIXTURES.glob("*.xz")}
    assert kept == {f"version-{version}.duckdb.xz" for version in OLDER}
    assert all(path.stat().st_size < 100_000 for path in FIXTURES.iterdir())


@pytest.mark.parametrize("version", OLDER)
def test_an_older_warehouse_answers_and_is_left_as_it_is(
    fresh: Path, tmp_path: Path, version: int
) -> None:
    folder = older(tmp_path / "ws", version)
    before = (folder / "warehouse.duckdb").read_bytes()
    assert version_of(folder) == version
    pd.testing.assert_frame_equal(counts(folder), counts(fresh))
    assert run("check", "--workspace", folder).exit_code == 0
    assert (folder / "warehouse.duckdb").read_bytes() == before


@pytest.mark.parametrize("version", OLDER)
def test_the_next_load_brings_it_forward(
    fresh: Path, tmp_path: Path, version: int
) -> None:
    folder = older(tmp_path / "ws", version)
    today = workspace(tmp_path / "today")
    assert run("ingest", "--workspace", today).exit_code == 0
    later = later_file(fresh, tmp_path)
    accounts = []
    for each in (folder, today):
        result = run("ingest", later, "--workspace", each, "--format", "json")
        assert result.exit_code == 0, result.output
        [account] = json.loads(result.stdout)
        accounts.append(account)
    assert accounts[0] == accounts[1]
    assert (accounts[0]["updated"], accounts[0]["inserted"]) == (1, 1)
    assert version_of(folder) == SCHEMA_VERSION
    pd.testing.assert_frame_equal(counts(folder), counts(today))
    assert broken(folder) == []
    # the exports that it was made from bring nothing new
    again = run("ingest", "--workspace", folder, "--format", "json")
    assert {row["inserted"] + row["updated"] for row in json.loads(again.stdout)} <= {0}


@pytest.mark.parametrize("version", OLDER)
def test_a_backup_of_an_older_warehouse_is_restored(
    fresh: Path, tmp_path: Path, version: int
) -> None:
    folder = older(tmp_path / "ws", version)
    backup, again = tmp_path / "kept.zip", tmp_path / "again"
    assert run("backup", backup, "--workspace", folder).exit_code == 0
    result = run("restore", backup, "--workspace", again)
    assert result.exit_code == 0, result.output
    assert version_of(again) == version
    pd.testing.assert_frame_equal(counts(again), counts(fresh))


COMMANDS = {
    "ingest": ["ingest"],
    "classify": ["classify"],
    "learn": ["learn"],
    "rates": ["rates"],
    "life": ["life"],
    "lag": ["lag"],
    "repeats": ["repeats"],
    "tally": ["tally"],
    "causes": ["causes", "no power"],
    "windows": ["windows"],
    "forecast": ["forecast"],
    "words": ["words"],
    "signals": ["signals"],
    "check": ["check"],
    "backup": ["backup", "kept.zip"],
    "erase": ["erase", "--claim", "C-1", "--reason", "asked"],
    "run": ["run"],
    "monthly": ["report", "monthly"],
    "component": ["report", "component", "charger"],
    "review": ["review", "export", "review.xlsx"],
}


@pytest.mark.parametrize("name", list(COMMANDS))
def test_a_newer_warehouse_is_refused_and_never_written_to(
    fresh: Path, tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = workspace(tmp_path / "ws")
    warehouse = folder / "warehouse.duckdb"
    warehouse.write_bytes((fresh / "warehouse.duckdb").read_bytes())
    with duckdb.connect(str(warehouse)) as connection:
        connection.execute(
            "update meta set value = $newer where key = 'schema_version'",
            {"newer": str(SCHEMA_VERSION + 1)},
        )
    before = warehouse.read_bytes()
    result = run(*COMMANDS[name], "--workspace", folder)
    assert result.exit_code == 1, result.output
    assert f"The warehouse has schema version {SCHEMA_VERSION + 1}" in result.stderr
    assert "to do: use the newer claimlens that wrote it" in result.stderr
    assert "Traceback" not in result.stderr
    assert warehouse.read_bytes() == before
    assert not (tmp_path / "kept.zip").exists()
