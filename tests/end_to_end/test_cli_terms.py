"""The command that checks the terms, in a workspace with words of its own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from claimlens.cli import app
from claimlens.start import create

OWN = (
    "group,component,failure_mode,weight,terms\n"
    "part,motor,,1,whirligig\n"
    "part,display,,1,whirligig\n"
    "part,tow bar,,1,hitch\n"
    "sign,motor,worn,1,whirr\n"
)


def run(folder: Path, *arguments: str) -> Result:
    command = [*arguments[:1], "--workspace", str(folder), *arguments[1:]]
    return CliRunner().invoke(app, command)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a workspace that reads English with some words of its own."""
    create(tmp_path / "ws")
    folder = tmp_path / "ws"
    (folder / "own.csv").write_text(OWN, encoding="utf-8")
    (folder / "claimlens.toml").write_text(
        '[classify]\nterms = "own.csv"\nlanguages = ["en"]\n', encoding="utf-8"
    )
    return folder


def test_the_terms_are_checked_before_and_on_claims(folder: Path) -> None:
    empty = run(folder, "terms", "--format", "json")
    assert empty.exit_code == 0
    rows = [row for row in json.loads(empty.stdout) if row["file"] == "own.csv"]
    assert [(row["problem"], row["line"]) for row in rows] == [
        ("conflict", 3),
        ("unreachable", 4),
    ]
    assert rows[0]["fired"] is None
    assert "no claims are loaded" in empty.stderr

    lines = ["claim_no,reported_on,narrative,part_no"]
    lines += [f"C-{n},2026-03-02,whirr from the rear again,P-1" for n in range(9)]
    (folder / "inbox" / "claims.csv").write_text("\n".join(lines), encoding="utf-8")
    (folder / "inbox" / "parts.csv").write_text(
        "part_no,component\nP-1,drivetrain\n", encoding="utf-8"
    )
    assert run(folder, "ingest").exit_code == 0
    tried = run(folder, "terms", "--format", "json")
    assert tried.exit_code == 0
    found = [row for row in json.loads(tried.stdout) if row["problem"] == "misfiring"]
    assert [(row["phrase"], row["fired"], row["right"]) for row in found] == [
        ("whirr", 9, 0)
    ]
    assert found[0]["upper"] < 0.5
    assert "no claims are loaded" not in tried.stderr
    assert "1 misfiring" in tried.stderr


def test_a_taxonomy_with_a_duplicate_stops_every_command(folder: Path) -> None:
    (folder / "components.csv").write_text("component\nmotor\nMotor\n")
    with (folder / "claimlens.toml").open("a", encoding="utf-8") as settings:
        settings.write('components = "components.csv"\n')
    for command in ("terms", "ingest"):
        result = run(folder, command)
        assert result.exit_code == 2
        assert "'motor' stands twice in the list." in result.stderr
        assert "components.csv, line 3" in result.stderr
