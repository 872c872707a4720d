"""The log of erasures: proof without personal data, one JSON object a line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from claimlens.errors import write_error
from claimlens.handover import append_private

__all__ = ["append_proof"]


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
        append_private(line, path)
    except OSError as error:
        raise write_error(
            "The proof of the erasure cannot be written",
            error,
            source=str(path),
            remedy="the erasure is done, and the warehouse keeps the proof too (table "
            "erasures); make the folder writable",
        ) from error
