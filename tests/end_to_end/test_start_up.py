"""What a short command loads: nothing that only drawing, workbooks or learning need."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# each takes from a tenth of a second to half of one to load
HEAVY = (
    "altair", "jinja2", "openpyxl", "scipy.optimize", "scipy.sparse", "scipy.stats",
    "sklearn", "vl_convert", "xlrd", "claimlens.charts", "claimlens.demo",
    "claimlens.report",
)  # fmt: skip
SCRIPT = f"""
import json, sys
from claimlens.cli import app
try:
    app(sys.argv[1:])
finally:
    print(json.dumps([name for name in {HEAVY} if name in sys.modules]))
"""


def told_and_loaded(*arguments: str | Path) -> tuple[str, list[str]]:
    """Return what a command of its own process prints, and what it loaded of those."""
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"},
    )
    assert done.returncode == 0, done.stderr
    told, _, loaded = done.stdout.rstrip("\n").rpartition("\n")
    return told, json.loads(loaded)


@pytest.mark.parametrize(
    ("argument", "words"), [("--version", "claimlens "), ("--help", "Warranty claims")]
)
def test_a_word_about_the_program_loads_nothing_heavy(
    argument: str, words: str
) -> None:
    told, loaded = told_and_loaded(argument)
    assert words in told
    assert loaded == []


def test_the_answer_for_one_unit_loads_nothing_heavy(filled: Path) -> None:
    serial = (filled / "inbox" / "units.csv").read_text(encoding="utf-8").split("\n")[1]
    asked = ("unit", serial.split(",")[0], "--workspace", filled)
    told_and_loaded(*asked)  # the known faults are found once
    told, loaded = told_and_loaded(*asked)
    assert "covered on" in told
    assert loaded == []


def test_causes_of_a_symptom_load_no_drawing(filled: Path) -> None:
    told, loaded = told_and_loaded("causes", "display dead", "--workspace", filled)
    assert "display" in told
    assert not set(loaded) & {"altair", "claimlens.charts", "claimlens.report"}
