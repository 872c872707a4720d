"""Processes that have no network: none in the machine's eyes, and none in Python's.

The system gives them a network of their own with nothing in it, where it can (Linux);
that holds for compiled libraries too. Everywhere an audit hook (PEP 578) refuses every
call of the socket module, in the process and in those that it starts.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SEALING = Path(__file__).parent / "sealing"


@cache
def without_network() -> tuple[str, ...]:
    """Return the words before a command that take the network from it, or none."""
    unshare = shutil.which("unshare")
    if unshare is None:
        return ()
    for words in ((unshare, "--net"), (unshare, "--map-root-user", "--net")):
        tried = subprocess.run([*words, "true"], capture_output=True, check=False)
        if tried.returncode == 0:
            return words
    return ()


def run_sealed(notes: Path, *words: str | Path) -> str:
    """Run the interpreter with these words and without a network.

    Parameters
    ----------
    notes : Path
        Folder for what the sealed processes tell; made where it is not there.
    *words : str or Path
        What follows the name of the interpreter.

    Returns
    -------
    str
        What the process printed; it must end with 0.
    """
    notes.mkdir(parents=True, exist_ok=True)
    done = subprocess.run(
        [*without_network(), sys.executable, *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join((str(SEALING), str(ROOT))),
            "PYTHONUTF8": "1",
            "PYTHONWARNINGS": "error",
            "CLAIMLENS_TEST_SEAL": str(notes),
        },
    )
    assert done.returncode == 0, done.stderr[-4000:]
    return done.stdout


def told(notes: Path, word: str) -> list[str]:
    """Return what was noted under a word, ``sealed`` or ``refused``."""
    return [
        line
        for file in sorted(notes.glob(f"{word}-*"))
        for line in file.read_text(encoding="utf-8").splitlines()
    ]
