"""One run at a time: a lock for the whole of it, and who holds it."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from claimlens.errors import InputError, LockedError

__all__ = ["run_lock"]

_LOCK, _HOLDER = "run.lock", "run.holder"


@contextmanager
def run_lock(folder: Path, wait: float) -> Iterator[None]:
    """Keep every other run of a workspace out.

    Parameters
    ----------
    folder : Path
        The workspace.
    wait : float
        Seconds to wait for the run that holds it.

    Raises
    ------
    LockedError
        If another run holds it; the message names its process and since when.
    InputError
        If the folder cannot be written.
    """
    lock = FileLock(str(folder / _LOCK))
    holder = folder / _HOLDER
    try:
        # the system drops it when the process dies, however it dies
        lock.acquire(timeout=wait)
        holder.write_text(
            json.dumps({"pid": os.getpid(), "since": _now()}), encoding="utf-8"
        )
    except Timeout:
        raise LockedError(
            f"Another run is at work on this workspace{_who(holder)}.",
            source=str(folder),
            remedy="let it come to its end, or give --wait SECONDS",
        ) from None
    except OSError as error:
        raise InputError(
            f"The workspace cannot be written: {error.strerror or error}.",
            source=str(folder),
            remedy="make the folder writable",
        ) from error
    try:
        yield
    finally:
        holder.unlink(missing_ok=True)
        lock.release()


def _now() -> str:
    """Return the time for people to read; no result depends on it."""
    return datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")


def _who(holder: Path) -> str:
    """Say who holds the lock, as far as it can be read."""
    try:
        told = json.loads(holder.read_text(encoding="utf-8"))
        return f": process {int(told['pid'])}, since {told['since']}"
    except (OSError, ValueError, KeyError, TypeError):
        return ""
