"""Forbid this interpreter the network, and note what it tried.

Python loads a module of this name when it starts, so every process that inherits
the path is sealed, those that claimlens starts itself too.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

NOTES = Path(os.environ["CLAIMLENS_TEST_SEAL"])
# of PEP 578: the name of this machine is no word to another one
ALLOWED = {"socket.__new__", "socket.gethostname"}


def _note(word: str, told: str) -> None:
    with (NOTES / f"{word}-{os.getpid()}").open("a", encoding="utf-8") as notes:
        notes.write(told + "\n")


def _refuse(event: str, arguments: tuple[object, ...]) -> None:
    if event.startswith("socket.") and event not in ALLOWED:
        # noted as well, since whoever calls may keep the error to himself
        _note("refused", f"{event} {arguments[-1]}")
        raise PermissionError(f"{event} is forbidden in this test")


_note("sealed", " ".join(sys.orig_argv))
sys.addaudithook(_refuse)
