"""What every commit must pass: style, types, SQL style, and a whole wheel."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(*arguments: str, cwd: Path = ROOT, **variables: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **variables},
    )
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]
    return done.stdout


def test_ruff_finds_nothing() -> None:
    run("-m", "ruff", "check", "claimlens", "tests", ".ci")


def test_the_code_is_formatted() -> None:
    run("-m", "ruff", "format", "--check", "claimlens", "tests", ".ci")


def test_the_package_is_typed() -> None:
    run("-m", "mypy")


def test_the_counting_sql_is_in_style() -> None:
    run("-m", "sqlfluff", "lint", "queries/intermediate", "queries/marts")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel and lay it out as an installer would."""
    folder = tmp_path_factory.mktemp("wheel")
    run("-m", "hatchling", "build", "-t", "wheel", "-d", str(folder))
    [wheel] = folder.glob("*.whl")
    site = folder / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    return site


def test_the_wheel_carries_queries_reports_truth_and_licence(installed: Path) -> None:
    package = installed / "claimlens"
    assert len(list((package / "queries").rglob("*.sql"))) == len(
        list((ROOT / "queries").rglob("*.sql"))
    )
    assert (package / "reports" / "style.css").exists()
    assert (package / "demo_data" / "truth.toml").exists()
    assert "Apache License" in (package / "LICENSE.txt").read_text(encoding="utf-8")
    assert (package / "py.typed").exists()


def test_the_files_are_found_in_a_wheel_and_in_a_checkout(
    installed: Path, tmp_path: Path
) -> None:
    script = (
        "from claimlens.resources import find\n"
        "for name in ('queries/schema/tables.sql', 'reports/style.css',\n"
        "             'demo_data/truth.toml'):\n"
        "    print(find(name))\n"
    )
    for place in (installed, ROOT):
        found = run("-c", script, cwd=tmp_path, PYTHONPATH=str(place)).splitlines()
        assert len(found) == 3
        assert all(line.startswith(str(place)) for line in found)
