"""The log of erasures: proof without personal data, one JSON object a line."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path

from claimlens.errors import write_error

__all__ = ["append_proof"]

_OWNER_ONLY = 0o600


def append_proof(path: Path, proof: Mapping[str, object]) -> None:
    """Append one erasure; the log is never shortened.

    Parameters
    ----------
    path : Path
        The log, made with its folder where it is not there.
    proof : mapping
        What was done; salted digests in the place of identifiers.

    Raises
    ------
    InputError
        If it cannot be written; the erasure itself is done.
    """
    line = json.dumps(proof, ensure_ascii=False, sort_keys=True) + "\n"
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, _OWNER_ONLY)
        with os.fdopen(handle, "ab") as file:
            file.write(line.encode("utf-8", "backslashreplace"))
    except OSError as error:
        raise write_error(
            "The proof of the erasure cannot be written",
            error,
            source=str(path),
            remedy="the erasure is done, and the warehouse keeps the proof too (table "
            "erasures); make the folder writable",
        ) from error
