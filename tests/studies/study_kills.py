"""Does a plain run mend whatever a kill left, and is every copy of the files whole?

Run ``python tests/studies/study_kills.py [KILLS] [WORKERS]``: a workspace of 600 units
and 240 claims, half of them loaded. A load, a list of the classification or a whole run
is started, its files are copied at a random moment, as a power cut would leave them,
and the process is killed there (SIGKILL). After each kill the warehouse and the copy
must open and hold the claims of before or of after; after every fifth one a plain run
must leave the same answers, page and workbook as a workspace that nobody disturbed.
"""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path

import duckdb

KINDS = ("ingest", "classify", "run")
BETWEEN_RUNS = 5
TOLD = ("monthly-*.html", "monthly-*.xlsx")
NOTES = (
    "motor dead, no drive",
    "Wasser in der Anzeige",
    "battery does not charge",
    "brake leaking",
    "wiring harness chafed at the headset",
    "chargeur ne fonctionne plus",
    "rear light dead",
)


def write_world(folder: Path) -> None:
    """Write units and two exports of claims into an inbox."""
    rng = random.Random(20240607)
    units, claims = [], []
    for k in range(600):
        built = date(2023, 1, 1) + timedelta(days=k * 4 // 3)
        sold = built + timedelta(days=rng.randint(20, 90))
        units.append(f"S{k:05d},Trike,{built.year},{built},{sold},north")
        failed = sold + timedelta(days=rng.randint(5, 600))
        if rng.random() < 0.6 and failed < date(2025, 6, 1):
            reported = failed + timedelta(days=rng.randint(1, 40))
            cost = rng.randint(20, 300)
            row = f"S{k:05d},{failed},{reported},{rng.choice(NOTES)},{cost}.00,EUR"
            claims.append((reported, row))
    claims.sort()
    half = len(claims) // 2
    inbox = folder / "inbox"
    inbox.mkdir(parents=True)
    (folder / "claimlens.toml").write_text("", encoding="utf-8")
    head = "serial,model,model_year,build_date,in_service_date,region\n"
    (inbox / "units.csv").write_text(head + "\n".join(units) + "\n", encoding="utf-8")
    head = "claim_no,serial,failed_on,reported_on,technician_note,cost_total,currency\n"
    for name, part in (("a", claims[:half]), ("b", claims[half:])):
        rows = [f"C{name}{k:05d},{row}" for k, (_, row) in enumerate(part)]
        text = head + "\n".join(rows) + "\n"
        (inbox / f"claims-{name}.csv").write_text(text, encoding="utf-8")


def command(folder: Path, *words: str) -> list[str]:
    """Return the words that start a command on a workspace."""
    return [sys.executable, "-m", "claimlens", "--workspace", str(folder), *words]


def call(folder: Path, *words: str) -> bytes:
    """Run a command to its end and return what it printed."""
    done = subprocess.run(command(folder, *words), capture_output=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{words} failed: {done.stderr.decode()}")
    return done.stdout


def state(warehouse: Path) -> tuple[int, int]:
    """Return claims and batches, as any DuckDB client reads them."""
    with duckdb.connect(str(warehouse), read_only=True) as connection:
        ((claims, batches),) = connection.execute(
            "select (select count(*) from claims_now), (select count(*) from batches)"
        ).fetchall()
    return claims, batches


def result(folder: Path) -> dict[str, str]:
    """Return digests of what a workspace tells after a run."""
    told = {
        words: call(folder, *words.split(), "--format", "json")
        for words in ("classify", "rates --by component")
    }
    for pattern in TOLD:
        for path in (folder / "out").glob(pattern):
            told[path.name] = path.read_bytes()
    return {name: hashlib.sha256(text).hexdigest() for name, text in told.items()}


def digests(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield the pages and workbooks that stand in the out tray."""
    for pattern in TOLD:
        for path in (folder / "out").glob(pattern):
            yield path.name, hashlib.sha256(path.read_bytes()).hexdigest()


def copy_as_cut(folder: Path, target: Path) -> None:
    """Copy the files of the database as they are at this moment."""
    target.mkdir()
    for path in [*folder.glob("warehouse.duckdb*"), *folder.glob("*.draft/*")]:
        place = target / path.relative_to(folder)
        # a draft may be gone between the list and the copy
        with suppress(FileNotFoundError, IsADirectoryError):
            place.parent.mkdir(exist_ok=True)
            shutil.copyfile(path, place)


def still_alive(group: int) -> bool:
    """Tell whether some process of a group still runs after ten seconds."""
    for _ in range(100):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.1)
    return True


class Study:
    """One workspace that is hurt again and again."""

    def __init__(self, root: Path, seed: int) -> None:
        self.rng = random.Random(seed)
        self.root = root / f"worker-{seed}"
        self.seen: Counter[tuple[str, str]] = Counter()
        self.start = self.root / "start"
        write_world(self.start)
        later = self.start / "inbox" / "claims-b.csv"
        aside = later.rename(self.root / later.name)
        call(self.start, "ingest")
        self.before = state(self.start / "warehouse.duckdb")
        aside.rename(later)
        calm = shutil.copytree(self.start, self.root / "calm")
        self.took = {}
        for kind in ("ingest", "classify"):
            began = time.monotonic()
            call(calm, kind)
            self.took[kind] = time.monotonic() - began
        shutil.rmtree(calm)
        shutil.copytree(self.start, calm)
        began = time.monotonic()
        call(calm, "run")
        self.took["run"] = time.monotonic() - began
        self.after = state(calm / "warehouse.duckdb")
        self.wanted = result(calm)

    def kill_once(self, folder: Path, kind: str, k: int) -> None:
        """Start a command, copy its files at a random moment, and kill it there."""
        process = subprocess.Popen(
            command(folder, kind),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        time.sleep(self.rng.uniform(0.05, 1.05) * self.took[kind])
        copy = self.root / f"cut-{k}"
        copy_as_cut(folder, copy)
        was_done = process.poll() is not None
        process.send_signal(signal.SIGKILL)
        process.wait()
        self.seen[kind, "already done" if was_done else "killed"] += 1
        if still_alive(process.pid):
            self.seen[kind, "LEFT A PROCESS"] += 1
        for where, name in ((folder, "WAREHOUSE BROKEN"), (copy, "COPY BROKEN")):
            try:
                is_whole = state(where / "warehouse.duckdb") in (
                    self.before,
                    self.after,
                )
            except duckdb.Error:
                is_whole = False
            self.seen[kind, "whole" if is_whole else name] += 1
        for name, digest in digests(folder):
            if digest != self.wanted[name]:
                self.seen[kind, "HALF A REPORT"] += 1
        shutil.rmtree(copy)

    def work(self, kills: int) -> Counter[tuple[str, str]]:
        """Kill so often, mend after every few, and count what was seen."""
        folder = self.root / "hurt"
        for k in range(kills):
            if k % BETWEEN_RUNS == 0:
                shutil.rmtree(folder, ignore_errors=True)
                shutil.copytree(self.start, folder)
            kind = KINDS[k % len(KINDS)]
            self.kill_once(folder, kind, k)
            if k % BETWEEN_RUNS == BETWEEN_RUNS - 1:
                call(folder, "run")
                same = result(folder) == self.wanted
                self.seen["run", "mended" if same else "NOT MENDED"] += 1
                left = [path.name for path in folder.rglob("*draft*")]
                if left:
                    self.seen["run", "LEFT A DRAFT"] += 1
            print(k + 1, dict(self.seen), file=sys.stderr, flush=True)
        return self.seen


def main() -> None:
    """Kill, mend, and print the counts."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    workers = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    with (
        tempfile.TemporaryDirectory() as name,
        ThreadPoolExecutor(workers) as pool,
    ):
        studies = [Study(Path(name), seed) for seed in range(workers)]
        seen: Counter[tuple[str, str]] = Counter()
        for counts in pool.map(lambda study: study.work(kills // workers), studies):
            seen += counts
    print(f"| {'command':8} | {'what':16} | times |\n|---|---|---|")
    for (kind, what), n in sorted(seen.items()):
        print(f"| {kind:8} | {what:16} | {n} |")


if __name__ == "__main__":
    main()
