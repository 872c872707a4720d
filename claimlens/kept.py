"""Answers kept beside the warehouse, which it takes long to find again.

Nothing rests on them: a file that is missing, damaged or of another warehouse is as
good as none.
"""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import pandas as pd

from claimlens.analysis.question import Question
from claimlens.errors import InputError
from claimlens.handover import make_private, write_text
from claimlens.settings import Settings
from claimlens.version import __version__

__all__ = ["cause_claims_file", "keep", "kept_key", "read_kept"]

_FILE = Path("cache") / "known_faults.json"
_CAUSE_CLAIMS = Path("cache") / "cause_claims.duckdb"
_DAYS = ("from_date", "to_date", "since")


def kept_key(
    warehouse: Path, settings: Settings, terms_digest: str, question: Question
) -> str:
    """Return what an answer rests on, as one word.

    Parameters
    ----------
    warehouse : Path
        The file; its size and the time of its last change stand for what it holds.
    settings : Settings
        All of them.
    terms_digest : str
        Of the terms.
    question : Question
        Cut-off and known-by date.
    """
    try:
        state = warehouse.stat()
        seen = f"{state.st_size}/{state.st_mtime_ns}"
    except OSError:
        seen = ""
    rests_on = [
        __version__,
        seen,
        settings.model_dump_json(),
        terms_digest,
        str(question.as_of),
        str(question.as_known),
    ]
    return hashlib.sha256("\x1f".join(rests_on).encode()).hexdigest()


def cause_claims_file(folder: Path) -> Path:
    """Return where a workspace keeps what its claims turned out to be."""
    return folder / _CAUSE_CLAIMS


def read_kept(folder: Path, key: str) -> pd.DataFrame | None:
    """Return a kept table, or None where there is none for this key.

    Parameters
    ----------
    folder : Path
        The workspace.
    key : str
        From `kept_key`.
    """
    try:
        first, _, text = (folder / _FILE).read_text(encoding="utf-8").partition("\n")
        if first != key:
            return None
        frame = pd.read_json(io.StringIO(text), orient="table")
    except (OSError, ValueError, KeyError):
        return None
    return frame.reset_index(drop=True)


def keep(folder: Path, key: str, frame: pd.DataFrame) -> None:
    """Keep a table; a folder that cannot be written to is left as it is.

    Parameters
    ----------
    folder : Path
        The workspace.
    key : str
        From `kept_key`.
    frame : DataFrame
        What is kept.
    """
    typed = frame.astype(dict.fromkeys(_DAYS, "datetime64[ns]"))
    text = typed.to_json(orient="table", index=False, date_format="iso")
    target = folder / _FILE
    try:
        make_private(target.parent)
        write_text(f"{key}\n{text}", target, overwrite=True)
    except InputError:
        # nothing rests on it: it is found again the next time
        return
