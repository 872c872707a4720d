"""A reader keeps reading, a killed load leaves a whole warehouse, writers queue."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import duckdb
import pytest

import claimlens

ROOT = Path(claimlens.__file__).resolve().parent.parent
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "error"}

FORMER, LATER = 40, 2_500
UNITS_HEADER = "serial,model,model_year,ship_date,in_service_date\n"


def write_claims(path: Path, n: int, status: str) -> Path:
    """Write ``n`` claims of one month, all of one status."""
    lines = ["claim_no,reported_on,serial,failed_on,status,technician_note"]
    lines += [
        f"C{k:05d},2025-03-{1 + k % 28:02d},S{k % 50},2025-03-01,{status},"
        f"note {k % 100} harness chafed at the headset"
        for k in range(n)
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a workspace with 50 units and 40 open claims, and more to load."""
    tmp_path = tmp_path_factory.mktemp("template")
    (tmp_path / "claimlens.toml").write_text("", encoding="utf-8")
    units = "".join(f"S{k},Trike,2024,2024-06-01,2024-07-01\n" for k in range(50))
    (tmp_path / "units.csv").write_text(UNITS_HEADER + units, encoding="utf-8")
    former = write_claims(tmp_path / "former.csv", FORMER, "open")
    workspace = claimlens.open(tmp_path)
    workspace.ingest([tmp_path / "units.csv", former])
    write_claims(tmp_path / "later.csv", LATER, "closed")
    return tmp_path


@pytest.fixture
def folder(template: Path, tmp_path: Path) -> Path:
    """Return a copy of the template that a test may hurt."""
    return Path(shutil.copytree(template, tmp_path / "ws"))


def state(folder: Path) -> tuple[int, int, int]:
    """Return claims, closed claims and batches, as any DuckDB client reads them."""
    path = str(folder / "warehouse.duckdb")
    with duckdb.connect(path, read_only=True) as connection:
        ((n, closed, batches),) = connection.execute(
            "select count(*), count(*) filter (where status = 'closed'), "
            "(select count(*) from batches) from claims_now"
        ).fetchall()
    return n, closed, batches


FORMER_STATE = (FORMER, 0, 2)
LATER_STATE = (LATER, LATER, 3)

# Each moment patches one step of the load so that the process kills itself there.
KILLS = {
    "while the copy is half written": """
        def half(source, target):
            data = source.read_bytes()
            target.write_bytes(data[: len(data) // 2])
            die()
        files.shutil.copyfile = half
    """,
    "while the rows are versioned": """
        run = session.Session.run
        def stop(self, script, parameters=None):
            run(self, script, parameters)
            if script == "staging/new_versions":
                die()
        session.Session.run = stop
    """,
    "after the last row, before the checks": """
        session._swap_in = lambda draft, path: die()
    """,
    "right before the rename": """
        files.os.replace = lambda draft, path: die()
    """,
    "right after the rename": """
        replace = os.replace
        def stop(draft, path):
            replace(draft, path)
            die()
        files.os.replace = stop
    """,
}

CHILD = """
import os, signal, sys
import claimlens
from claimlens.db import files, session
def die():
    os.kill(os.getpid(), signal.SIGKILL)
{patch}
claimlens.open(sys.argv[1]).ingest(sys.argv[2])
"""


def start(folder: Path, patch: str = "") -> subprocess.Popen[bytes]:
    """Start a load of ``later.csv`` in a process of its own."""
    code = CHILD.format(patch=textwrap.dedent(patch))
    return subprocess.Popen(
        [sys.executable, "-c", code, str(folder), str(folder / "later.csv")],
        env=ENVIRONMENT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )


def command_line(folder: Path, *words: str) -> list[str]:
    """Return the words that run a command on the workspace."""
    return [sys.executable, "-m", "claimlens", "--workspace", str(folder), *words]


def command(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the command line on the workspace."""
    return subprocess.run(
        command_line(folder, *words),
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


@pytest.mark.parametrize("moment", KILLS)
def test_a_killed_load_leaves_the_former_or_the_new_state(
    moment: str, folder: Path
) -> None:
    before = (folder / "warehouse.duckdb").read_bytes()
    child = start(folder, KILLS[moment])
    _, errors = child.communicate(timeout=120)
    assert child.returncode == -signal.SIGKILL, errors.decode()
    if moment == "right after the rename":
        assert state(folder) == LATER_STATE
    else:
        assert (folder / "warehouse.duckdb").read_bytes() == before
        assert state(folder) == FORMER_STATE
    rates = claimlens.open(folder).rates(by="model", at=3)
    assert rates["units"].item() == 50
    # the next load finds no lock and no half-written copy in its way
    account = claimlens.open(folder).ingest(folder / "later.csv")
    assert account["rows_read"].item() == LATER
    assert state(folder) == LATER_STATE
    left = {path.name for path in folder.iterdir() if "warehouse" in path.name}
    assert left <= {"warehouse.duckdb", "warehouse.duckdb.lock"}


def test_a_load_killed_from_outside_leaves_the_former_state(folder: Path) -> None:
    before = (folder / "warehouse.duckdb").read_bytes()
    draft = folder / "warehouse.duckdb.draft"
    child = start(folder)
    try:
        until = time.monotonic() + 60
        while not draft.exists() and time.monotonic() < until:
            time.sleep(0.001)
        assert draft.exists()
    finally:
        child.kill()
        child.communicate(timeout=60)
    assert (folder / "warehouse.duckdb").read_bytes() == before
    assert state(folder) == FORMER_STATE
    claimlens.open(folder).ingest(folder / "later.csv")
    assert state(folder) == LATER_STATE


def test_a_reader_in_another_process_keeps_reading_during_a_load(
    folder: Path,
) -> None:
    draft = folder / "warehouse.duckdb.draft"
    path = str(folder / "warehouse.duckdb")
    held = duckdb.connect(path, read_only=True)
    child = start(folder)
    seen, during = [], 0
    while child.poll() is None:
        is_working = draft.exists()
        # a connection of its own each time, as a second process would make
        code = "select count(*), min(status) from claims_now"
        seen.append(held.execute(code).fetchall()[0])
        during += is_working and draft.exists()
        time.sleep(0.01)
    _, errors = child.communicate(timeout=60)
    assert child.returncode == 0, errors.decode()
    assert during >= 5
    # who opened the file before the swap keeps what it opened
    assert set(seen) == {(FORMER, "open")}
    held.close()
    assert state(folder) == LATER_STATE


READER = """
import sys, time, duckdb
from pathlib import Path
path = Path(sys.argv[1])
seen = set()
n = 0
while not (path.parent / "stop").exists():
    with duckdb.connect(str(path), read_only=True) as connection:
        seen.add(connection.execute("select count(*) from claims_now").fetchone()[0])
    n += 1
    time.sleep(0.01)
print(n, *sorted(seen))
"""


def test_a_process_that_opens_again_and_again_sees_old_then_new(folder: Path) -> None:
    reader = subprocess.Popen(
        [sys.executable, "-c", READER, str(folder / "warehouse.duckdb")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        claimlens.open(folder).ingest(folder / "later.csv")
        time.sleep(0.3)
    finally:
        (folder / "stop").touch()
    said, errors = reader.communicate(timeout=60)
    assert reader.returncode == 0, errors
    n, *counts = (int(word) for word in said.split())
    assert n >= 3
    assert set(counts) <= {FORMER, LATER}
    assert LATER in counts


HOLDER = """
import sys, time
from pathlib import Path
from claimlens.db import write_warehouse
folder = Path(sys.argv[1])
with write_warehouse(folder / "warehouse.duckdb"):
    (folder / "held").touch()
    while not (folder / "go").exists():
        time.sleep(0.01)
"""


def test_a_second_writer_is_refused_or_waits(folder: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(folder)], env=ENVIRONMENT
    )
    try:
        until = time.monotonic() + 60
        while not (folder / "held").exists() and time.monotonic() < until:
            time.sleep(0.01)
        refused = command(folder, "ingest", str(folder / "later.csv"))
        assert refused.returncode == 1
        said = "Another claimlens process is writing to the warehouse: process "
        assert f"{said}{holder.pid}, since 20" in " ".join(refused.stderr.split())
        assert "Traceback" not in refused.stderr
        assert state(folder) == FORMER_STATE
        waiting = subprocess.Popen(
            command_line(folder, "ingest", "--wait", "60", str(folder / "later.csv")),
            env=ENVIRONMENT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        time.sleep(1.0)
        assert waiting.poll() is None
    finally:
        (folder / "go").touch()
        holder.wait(timeout=60)
    _, errors = waiting.communicate(timeout=120)
    assert waiting.returncode == 0, errors.decode()
    assert state(folder) == LATER_STATE


FULL = """
import resource, signal, sys
import claimlens
from claimlens.errors import ClaimlensError
ws = claimlens.open(sys.argv[1])
ws._terms
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
size = ws.warehouse.stat().st_size + {room}
resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
try:
    ws.ingest(sys.argv[2])
except ClaimlensError as error:
    print(type(error).__name__, error)
    sys.exit(error.exit_code)
"""


@pytest.mark.parametrize("room", [-4096, 65536])
def test_a_full_disk_leaves_the_former_state(room: int, folder: Path) -> None:
    """A limit on the size of a file stands for the end of the disk."""
    before = (folder / "warehouse.duckdb").read_bytes()
    code = FULL.format(room=room)
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder), str(folder / "later.csv")],
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert "Traceback" not in done.stderr, done.stderr
    assert "WarehouseError" in done.stdout
    assert (folder / "warehouse.duckdb").read_bytes() == before
    claimlens.open(folder).ingest(folder / "later.csv")
    assert state(folder) == LATER_STATE
