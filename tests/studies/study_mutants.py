"""Does any damaged export end in anything but a true account or one message?

Run ``python tests/studies/study_mutants.py [MUTANTS] [WORKERS]``: exports of twelve
formats and dialects are damaged in up to 26 ways (see ``tests/property``), and each
is loaded into an empty warehouse. What is read is held against a count of the records
by the csv and json modules, by a plain reader of XML, by xlrd or by pyarrow, wherever
such a count is defined. A worker that dies or stands still is told and started again.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import TextIO

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "property"))

from mutant_maker import mutant
from mutant_trial import Desk

_MEMORY = 6 << 30
_STANDSTILL = 40
_GOOD = ("loaded", "refused")


def work(start: int, stop: int, step: int, log: TextIO) -> None:
    """Try mutants, and write what became of each at once."""
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk(Path(folder))
        for number in range(start, stop, step):
            log.write(json.dumps({"begun": number}) + "\n")
            log.flush()
            one = mutant(number)
            verdict = desk.trial(one)
            row = {
                "number": number,
                "format": one.seed.name,
                "way": one.way,
                "outcome": verdict.outcome,
                "told": verdict.told,
                "counted": verdict.is_counted,
            }
            log.write(json.dumps(row) + "\n")
            log.flush()


def _begin(log: Path, start: int, stop: int, step: int) -> subprocess.Popen[bytes]:
    arguments = [str(n) for n in (start, stop, step)]
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, __file__, "--worker", str(log), *arguments],
        env=environment,
        stderr=subprocess.DEVNULL,
    )


def _last(log: Path) -> tuple[int | None, bool]:
    """Return the last mutant that was begun, and whether it came to an end."""
    last, ended = None, True
    for line in log.read_text("utf-8").splitlines():
        row = json.loads(line)
        if "begun" in row:
            last, ended = row["begun"], False
        else:
            ended = True
    return last, ended


def _note(log: Path, number: int, outcome: str) -> None:
    one = mutant(number)
    row = {"number": number, "format": one.seed.name, "way": one.way}
    with log.open("a", encoding="utf-8") as file:
        told = {"outcome": outcome, "told": "", "counted": False}
        file.write(json.dumps({**row, **told}) + "\n")


def watch(folder: Path, mutants: int, workers: int) -> list[dict[str, object]]:
    """Keep the workers going until every mutant was tried."""
    logs = [folder / f"worker{n}.jsonl" for n in range(workers)]
    for log in logs:
        log.touch()
    running = {n: _begin(log, n, mutants, workers) for n, log in enumerate(logs)}
    while running:
        time.sleep(1)
        for n, process in list(running.items()):
            log = logs[n]
            code = process.poll()
            stands = time.time() - log.stat().st_mtime > _STANDSTILL
            if code is None and not stands:
                continue
            if code is None:
                process.kill()
                process.wait()
            last, ended = _last(log)
            if last is not None and not ended:
                _note(log, last, "hung" if code is None else "died")
            following = n if last is None else last + workers
            if following >= mutants or (code == 0 and ended):
                del running[n]
            else:
                running[n] = _begin(log, following, mutants, workers)
    rows = []
    for log in logs:
        told = map(json.loads, log.read_text("utf-8").splitlines())
        rows += [row for row in told if "number" in row]
    return rows


def table(rows: list[dict[str, object]], by: str) -> str:
    """Return the outcomes by format or by way as a table."""
    head = ("mutants", "refused whole", "counted", "wrong", "hung", "traceback")
    lines = [f"| {by} | {' | '.join(head)} |", "|---" * (len(head) + 1) + "|"]
    names = sorted({str(row[by]) for row in rows})
    for name in [*names, "all"]:
        own = [row for row in rows if name in ("all", row[by])]
        seen = Counter(row["outcome"] for row in own)
        wrong = sum(
            seen[kind] for kind in ("lost", "account", "doubled", "cells", "message")
        )
        cells = (
            len(own),
            seen["refused"],
            sum(bool(row["counted"]) for row in own if row["outcome"] == "loaded"),
            wrong,
            seen["hung"],
            seen["traceback"] + seen["died"],
        )
        lines.append(f"| {name} | " + " | ".join(f"{n:,}" for n in cells) + " |")
    return "\n".join(lines)


def main() -> None:
    """Run the study, print its tables and every fault."""
    if sys.argv[1:2] == ["--worker"]:
        log, *numbers = sys.argv[2:]
        with Path(log).open("a", encoding="utf-8") as file:
            work(*(int(n) for n in numbers), file)
        return
    mutants = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    workers = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    with tempfile.TemporaryDirectory() as folder:
        rows = watch(Path(folder), mutants, workers)
    for by in ("format", "way"):
        print(table(rows, by), end="\n\n")
    for row in rows:
        if row["outcome"] not in _GOOD:
            print(json.dumps(row, ensure_ascii=False))


if __name__ == "__main__":
    main()
