"""The files beside a warehouse: its lock, its draft, and what a disk may say."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
from filelock import FileLock, Timeout

from claimlens.db.holder import note_holder, who_holds
from claimlens.errors import LockedError, WarehouseError, is_full

__all__ = [
    "disk_faults_explained",
    "draft_of",
    "engine_faults_explained",
    "log_of",
    "make_draft",
    "put_in_place",
    "reason_of",
    "remove_draft",
    "writers_lock",
]


_OWNER_ONLY = 0o600


@contextmanager
def writers_lock(path: Path, wait: float) -> Iterator[None]:
    """Hold the writers' lock; the system drops it when the process dies."""
    lock = FileLock(str(path.with_name(path.name + ".lock")))
    holder = path.with_name(path.name + ".holder")
    try:
        with disk_faults_explained(path):
            lock.acquire(timeout=wait)
    except Timeout:
        raise LockedError(
            f"Another claimlens process is writing to the warehouse{who_holds(holder)}"
            ".",
            source=str(path),
            remedy="wait until it is done, or give --wait SECONDS",
        ) from None
    try:
        with disk_faults_explained(path):
            note_holder(holder)
        yield
    finally:
        holder.unlink(missing_ok=True)
        lock.release()


@contextmanager
def disk_faults_explained(path: Path) -> Iterator[None]:
    """Say what a refusal of the file system means for the warehouse."""
    try:
        yield
    except Timeout:
        raise
    except OSError as error:
        why = "the disk is full" if is_full(error) else error.strerror or str(error)
        raise WarehouseError(
            f"The warehouse cannot be written: {why}.",
            source=str(path),
            remedy=_room_needed(path)
            if is_full(error)
            else "make the folder writable; nothing was changed",
        ) from error


@contextmanager
def engine_faults_explained(path: Path, verb: str) -> Iterator[None]:
    """Say what a complaint of the engine outside our SQL means: mostly the disk."""
    try:
        yield
    except duckdb.Error as error:
        if is_full(error):
            raise WarehouseError(
                f"The warehouse cannot be {verb}: the disk is full.",
                source=str(path),
                remedy=_room_needed(path),
            ) from error
        if isinstance(error, duckdb.OutOfMemoryException):
            raise WarehouseError(
                "This needs more memory than the engine may take.",
                source=str(path),
                remedy="raise memory_limit in [engine] of claimlens.toml, close other "
                "programs, or ask about less at once; nothing was changed",
            ) from error
        raise WarehouseError(
            f"The warehouse cannot be {verb}: {reason_of(error)}",
            source=str(path),
            remedy="see that the disk is sound, then try again; nothing was changed",
        ) from error


def _room_needed(path: Path) -> str:
    """Say how much room makes a load possible: it works on a copy."""
    size = path.stat().st_size if path.exists() else 0
    copy = f" that takes {size / 1e6:,.0f} MB" if size >= 1e6 else ""
    return (
        f"free some disk space: a load works on a second copy of the warehouse{copy}, "
        "and needs room for what is new; nothing was changed"
    )


def reason_of(error: duckdb.Error) -> str:
    """Return the first line of an engine's complaint, without the path in it."""
    line = str(error).splitlines()[0]
    first = re.sub(r"([^/\\]+)\.draft[/\\]\1", r"\1", line)
    return "it is no DuckDB file" if "not a valid DuckDB" in first else first


def log_of(file: Path) -> Path:
    """Return where DuckDB keeps the write log of a file."""
    return file.with_name(file.name + ".wal")


def draft_of(path: Path) -> Path:
    """Return where the next state of a warehouse is worked on.

    A folder of its own, that only its owner may enter, holds the copy and whatever
    the engine leaves beside it.
    """
    return path.with_name(path.name + ".draft") / path.name


def make_draft(path: Path, draft: Path) -> None:
    """Make the folder of a draft; copy the warehouse into it, if there is one.

    The write log that a dead client may have left is part of the warehouse.
    """
    draft.parent.mkdir(mode=0o700)
    if not path.exists():
        return
    shutil.copyfile(path, draft)
    if log_of(path).exists():
        shutil.copyfile(log_of(path), log_of(draft))


def put_in_place(draft: Path, path: Path) -> None:
    """Put the finished draft in the place of the warehouse by one rename."""
    # whom the owner let read the warehouse may go on; a new one is his alone
    draft.chmod(path.stat().st_mode & 0o777 if path.exists() else _OWNER_ONLY)
    with draft.open("rb") as handle:
        os.fsync(handle.fileno())
    # the draft holds what the old log held; beside a newer file the log would be
    # refused, and the warehouse with it
    log_of(path).unlink(missing_ok=True)
    os.replace(draft, path)
    sync_folder(path.parent)


def remove_draft(draft: Path) -> None:
    """Remove a draft and what its engine may have left beside it."""
    if draft.parent.is_dir():
        shutil.rmtree(draft.parent)
    else:
        # versions before this one left a file of that name
        draft.parent.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Make the rename itself durable, where the system can."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
