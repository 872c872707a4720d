"""Workspaces that take long to make: made once a run, copied by each file."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from erase_desk import make
from filelock import FileLock
from seal import run_sealed
from typer.testing import CliRunner

from claimlens.cli import app
from claimlens.demo import load_truth, make_world, write_canonical
from claimlens.workspace import Workspace

SEED, UNITS = 3, 900
# beside the demo: what the processes told that made it, see test_no_network
DEMO_NOTES = "notes"


def run(*arguments: str | Path) -> str:
    """Run a command that must succeed; return what it printed."""
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Return the maker of folders that the processes of a run share."""
    base = tmp_path_factory.getbasetemp()
    # each process of pytest-xdist has a folder of its own below that of the run
    run_folder = base.parent if base.name.startswith("popen-") else base

    def make(name: str, fill: Callable[[Path], None]) -> Path:
        """Return a workspace of that name, filled by whoever asks first."""
        folder = run_folder / "shared" / name
        folder.parent.mkdir(exist_ok=True)
        with FileLock(folder.with_suffix(".lock")):
            if not folder.exists():
                draft = folder.with_suffix(".draft")
                shutil.rmtree(draft, ignore_errors=True)
                fill(draft / "ws")
                draft.rename(folder)
        return folder / "ws"

    return make


def _fill_demo(folder: Path) -> None:
    notes = folder.parent / DEMO_NOTES
    printed = run_sealed(notes, "-m", "claimlens", "demo", folder)
    last = printed.strip().splitlines()[-1]
    assert last.startswith("report: ")
    assert Path(last.removeprefix("report: ")).stat().st_size > 100_000


def _fill_small(folder: Path) -> None:
    run("init", folder)
    write_canonical(make_world(load_truth(), SEED, units=UNITS), folder / "inbox")
    run("ingest", "--workspace", folder)


@pytest.fixture(scope="module")
def demo(
    made_once: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """Copy what ``claimlens demo`` makes."""
    made = made_once("demo", _fill_demo)
    return Path(shutil.copytree(made, tmp_path_factory.mktemp("demo") / "ws"))


@pytest.fixture(scope="module")
def filled(
    made_once: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """Copy a small workspace that holds the canonical files of 900 units."""
    made = made_once("small", _fill_small)
    return Path(shutil.copytree(made, tmp_path_factory.mktemp("small") / "ws"))


@pytest.fixture
def loaded(tmp_path: Path) -> Workspace:
    """Return the workspace of the person who is to be erased, everything loaded."""
    workspace = make(tmp_path / "w")
    workspace.ingest()
    return workspace
