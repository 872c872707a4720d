"""One run at a time: a lock for the whole of it, and who holds it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from claimlens.db.holder import note_holder, who_holds
from claimlens.errors import LockedError, write_error

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
        note_holder(holder)
    except Timeout:
        raise LockedError(
            f"Another run is at work on this workspace{who_holds(holder)}.",
            source=str(folder),
            remedy="let it come to its end, or give --wait SECONDS",
        ) from None
    except OSError as error:
        raise write_error(
            "The workspace cannot be written",
            error,
            source=str(folder),
            remedy="make the folder writable",
        ) from error
    try:
        yield
    finally:
        holder.unlink(missing_ok=True)
        lock.release()
