"""A disk without room, one that takes no writing, and little memory: told, not torn."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

import claimlens

ROOT = Path(claimlens.__file__).resolve().parent.parent
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}

# a file system of the test's own, in the memory, that nobody else sees
MOUNT = """
set -e
mount -t tmpfs -o "size=$1" tmpfs "$2"
cp -a "$3"/. "$2"
if [ "$4" = ro ]; then mount -o remount,ro "$2"; fi
exec "$5" -c "$6" "$2" "$7"
"""
PROBE = """
import hashlib, json, pathlib, subprocess, sys
folder = pathlib.Path(sys.argv[1])
warehouse = folder / "warehouse.duckdb"
told = []
for command in json.loads(sys.argv[2]):
    before = hashlib.sha256(warehouse.read_bytes()).hexdigest()
    done = subprocess.run(
        [sys.executable, "-m", "claimlens", *command, "--workspace", str(folder)],
        capture_output=True, text=True, check=False, cwd="/",
    )
    same = hashlib.sha256(warehouse.read_bytes()).hexdigest() == before
    files = sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())
    told.append([done.returncode, done.stdout, done.stderr, same, files])
print(json.dumps(told))
"""


def _can_mount() -> bool:
    unshare = shutil.which("unshare")
    if unshare is None:
        return False
    try:
        done = subprocess.run(
            [unshare, "-rm", "mount", "-t", "tmpfs", "tmpfs", "/mnt"],
            capture_output=True,
            check=False,
        )
    except OSError:
        return False
    return done.returncode == 0


needs_mounts = pytest.mark.skipif(
    not _can_mount(), reason="this system lets no test mount a file system of its own"
)


@dataclass(frozen=True, slots=True)
class Told:
    """What a command said, and what it left."""

    code: int
    stdout: str
    stderr: str
    is_same: bool
    files: tuple[str, ...]


def on_a_disk(
    workspace: Path, place: Path, room: int, commands: list[list[str]], mode: str = "rw"
) -> list[Told]:
    """Run commands on a copy of a workspace that stands on a disk of its own."""
    place.mkdir(exist_ok=True)
    size = sum(-(-p.stat().st_size // 4096) * 4096 for p in workspace.rglob("*"))
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", MOUNT, "sh", str(size + room), str(place),
         str(workspace), mode, sys.executable, PROBE, json.dumps(commands)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env=ENVIRONMENT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [Told(*one[:4], tuple(one[4])) for one in json.loads(done.stdout)]


@pytest.fixture(scope="module")
def later(filled: Path) -> Path:
    """Return a workspace that has more claims to load."""
    header, *rows = (
        (filled / "inbox" / "claims.csv").read_text(encoding="utf-8").splitlines()
    )
    (filled / "inbox" / "later.csv").write_text(
        "\n".join([header, *(f"X{row}" for row in rows)]) + "\n", encoding="utf-8"
    )
    return filled


RATES = ["rates", "--format", "csv"]


@needs_mounts
def test_a_full_disk_loses_nothing(later: Path, tmp_path: Path) -> None:
    # the copy finds room, what is loaded does not
    room = int(1.1 * (later / "warehouse.duckdb").stat().st_size) + 8192
    before, run, written, after = on_a_disk(
        later,
        tmp_path / "disk",
        room,
        [RATES, ["run"], ["report", "monthly"], RATES],
    )
    assert run.code == 1
    assert "the disk is full" in run.stderr
    assert "to do: free some disk space" in run.stderr
    assert "Traceback" not in run.stderr
    assert run.is_same
    assert written.code in (0, 1)
    if written.code:
        assert "the disk is full" in written.stderr
        assert not [name for name in written.files if name.endswith(".html")]
    assert not [name for name in after.files if "draft" in name]
    assert (after.code, after.stdout) == (0, before.stdout)


@needs_mounts
def test_a_disk_with_room_takes_it_all(later: Path, tmp_path: Path) -> None:
    room = 8 * (later / "warehouse.duckdb").stat().st_size + 20_000_000
    (loaded,) = on_a_disk(later, tmp_path / "disk", room, [["ingest"]])
    assert (loaded.code, loaded.is_same) == (0, False), loaded.stderr


@needs_mounts
def test_a_disk_that_takes_no_writing_answers_and_says_why(
    later: Path, tmp_path: Path
) -> None:
    commands = [
        RATES,
        ["ingest"],
        ["report", "component", "display"],
        ["backup", str(tmp_path / "disk" / "copy.zip")],
        ["rates", "--format", "csv", "--output", str(tmp_path / "disk" / "rates.csv")],
    ]
    read, *refused = on_a_disk(later, tmp_path / "disk", 1_000_000, commands, "ro")
    assert read.code == 0
    for told in refused:
        assert told.code == 1, told.stderr
        assert "cannot be written: Read-only file system." in told.stderr
        assert "writable" in told.stderr or "can be written" in told.stderr
        assert "unexpected" not in told.stderr
        assert told.files == read.files


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_an_answer_that_finds_no_room_is_told(filled: Path) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "claimlens", *RATES, "--workspace", str(filled)],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            check=False,
            env=ENVIRONMENT,
        )
    assert done.returncode == 1
    assert done.stderr.startswith("claimlens: The answer cannot be written: the disk")
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


def test_little_memory_is_told_and_changes_nothing(later: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(later, tmp_path / "ws"))
    settings = folder / "claimlens.toml"
    settings.write_text(
        settings.read_text(encoding="utf-8")
        + '\n[engine]\nmemory_limit = "1MB"\nthreads = 1\n',
        encoding="utf-8",
    )
    before = hashlib.sha256((folder / "warehouse.duckdb").read_bytes()).hexdigest()
    done = subprocess.run(
        [sys.executable, "-m", "claimlens", "ingest", "--workspace", str(folder)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env=ENVIRONMENT,
    )
    assert done.returncode == 1
    assert "memory" in done.stderr
    assert "memory_limit" in done.stderr
    assert "Traceback" not in done.stderr
    after = hashlib.sha256((folder / "warehouse.duckdb").read_bytes()).hexdigest()
    assert after == before
