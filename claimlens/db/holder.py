"""Who holds a lock: told beside it, for the one who waits."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["note_holder", "who_holds"]


def note_holder(path: Path) -> None:
    """Write down this process and the time, for people; no result depends on it.

    Parameters
    ----------
    path : Path
        Beside the lock, which this process holds.
    """
    since = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    # a killed holder's, or a link that leads elsewhere
    path.unlink(missing_ok=True)
    with path.open("x", encoding="utf-8") as file:
        json.dump({"pid": os.getpid(), "since": since}, file)


def who_holds(path: Path) -> str:
    """Say who holds a lock, as far as it can be read.

    Parameters
    ----------
    path : Path
        As given to `note_holder`.

    Returns
    -------
    str
        To be put behind a sentence, such as ``: process 71, since 2026-01-31 ...``;
        empty where nothing tells.
    """
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        return f": process {int(told['pid'])}, since {told['since']}"
    except (OSError, ValueError, KeyError, TypeError):
        return ""
