"""Does erasing again complete whatever a kill left of an erasure?

Run ``python tests/studies/study_erase_kills.py [KILLS]``: a small workspace with a
report, a backup and an older warehouse in it. An erasure is started and killed
(SIGKILL) at a random moment. The warehouse must then open and hold the person whole or
not at all; after erasing again no file may show her, no draft and no journal may lie
there, and every table must have the rows that it has after an erasure nobody disturbed.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import duckdb

HERE = Path(__file__).resolve()
sys.path.insert(0, str(HERE.parents[1] / "end_to_end"))

from erase_desk import SECRETS, SERIAL, found_in, make, strings_of  # noqa: E402

import claimlens  # noqa: E402

ERASE = [sys.executable, "-m", "claimlens", "erase", "--serial", SERIAL, "--yes"]


def started(folder: Path) -> subprocess.Popen[bytes]:
    """Start an erasure of this checkout."""
    return subprocess.Popen(
        [*ERASE, "--workspace", str(folder)],
        cwd=HERE.parents[2],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def rows_of(warehouse: Path) -> dict[str, int]:
    """Return the rows of each table, the erasures' own apart."""
    with duckdb.connect(str(warehouse), read_only=True) as connection:
        names = connection.execute(
            "select table_name from duckdb_tables() where table_name <> 'erasures'"
        ).fetchall()
        return {
            name: len(connection.execute(f'select * from "{name}"').fetchall())
            for (name,) in names
        }


def shown(folder: Path) -> list[str]:
    """Return the files whose bytes show a secret."""
    wanted = [secret.lower().encode() for secret in SECRETS]
    return [
        path.relative_to(folder).as_posix()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and any(one in path.read_bytes().lower() for one in wanted)
    ]


def disturbed(origin: Path, folder: Path, after: float, whole: dict[str, int]) -> str:
    """Kill an erasure, erase again, and say what was found in between."""
    shutil.copytree(origin, folder)
    work = started(folder)
    time.sleep(after)
    is_over = work.poll() is not None
    work.kill()
    work.wait()
    held = found_in(strings_of(folder / "warehouse.duckdb"))
    if held and sorted(held) != sorted(SECRETS):
        raise AssertionError(f"half erased: {held}")
    state = "over" if is_over else "before" if held else "between"
    again = started(folder)
    if again.wait() != 0:
        raise AssertionError("erasing again failed")
    left = [path.name for path in folder.rglob("*.draft")]
    left += [path.name for path in (folder / "log").glob("erasing.json")]
    if shown(folder) or left or rows_of(folder / "warehouse.duckdb") != whole:
        raise AssertionError(f"not complete: {shown(folder)} {left}")
    return state


def main() -> None:
    """Run the study."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    rng = random.Random(7)
    with tempfile.TemporaryDirectory() as place:
        origin, whole = Path(place) / "origin", Path(place) / "whole"
        workspace = make(origin)
        workspace.ingest()
        workspace.run()
        backup = workspace.backup(origin / "b.zip", with_inbox=True)
        workspace.restore(backup.path)
        claimlens.open(origin)
        shutil.copytree(origin, whole)
        begun = time.monotonic()
        if started(whole).wait() != 0:
            raise AssertionError("the erasure failed")
        takes = time.monotonic() - begun
        rows = rows_of(whole / "warehouse.duckdb")
        found: Counter[str] = Counter()
        for number in range(kills):
            # mostly where files and warehouse change, after the program has started
            after = takes * rng.uniform(0.3, 1.0)
            state = disturbed(origin, Path(place) / f"k{number}", after, rows)
            found[state] += 1
            shutil.rmtree(Path(place) / f"k{number}")
    told = ", ".join(f"{count} {state}" for state, count in sorted(found.items()))
    print(f"{kills} kills within {takes:.1f} s: {told}; all completed by erasing again")


if __name__ == "__main__":
    main()
