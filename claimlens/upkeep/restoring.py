"""A workspace put back from a backup: all checked first, then swapped by renames."""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from claimlens.db.contents import contents_of
from claimlens.db.files import log_of, sync_folder, writers_lock
from claimlens.db.schema import SCHEMA_VERSION
from claimlens.errors import BackupError, InputError, write_error
from claimlens.runs import run_lock
from claimlens.settings import SETTINGS_FILE, read_settings
from claimlens.upkeep.backing_up import own_files
from claimlens.upkeep.erasing_again import Again, after_restore
from claimlens.upkeep.manifest import WAREHOUSE, Manifest, is_safe_name
from claimlens.upkeep.unpacking import open_backup, unpack

__all__ = ["Restored", "finish_restore", "restore"]

#: Holds what is being restored; gone when all of it is in its place.
STAGING = ".restore"
_NEW, _READY = "new", "ready.json"
# how long a workspace that is opened waits for a restore that is at work on it
_PATIENCE = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did.

    Parameters
    ----------
    folder : Path
        The workspace.
    files : int
        How many files were put in place.
    rows : int
        Rows of all tables.
    kept : Path or None
        Folder with what stood there before; None where nothing did or it was to be
        discarded.
    left_out : tuple of str
        Files that the settings name and no backup holds.
    erased : Again or None
        What had been erased since the backup and was erased from it again; None
        where no present warehouse could tell.
    """

    folder: Path
    files: int
    rows: int
    kept: Path | None
    left_out: tuple[str, ...]
    erased: Again | None = None


def restore(
    file: Path,
    folder: Path,
    *,
    replace: bool = False,
    discard: bool = False,
    wait: float = 0.0,
) -> Restored:
    """Put a workspace back from a backup.

    Parameters
    ----------
    file : Path
        Written by `claimlens.upkeep.backing_up.back_up`.
    folder : Path
        The workspace; made if it is not there.
    replace : bool, default False
        Whether a workspace that is there may be replaced.
    discard : bool, default False
        Whether what is replaced goes for good; otherwise it is kept in a folder
        ``before-restore-N``.
    wait : float, default 0
        Seconds to wait for a run or a writer.

    Returns
    -------
    Restored
        What was done.

    Raises
    ------
    InputError
        If there is no such file, or a workspace is there and may not be replaced.
    BackupError
        If the backup is damaged, newer, or not to be trusted; nothing was changed.
    LockedError
        If the workspace is in use.
    """
    with open_backup(file) as (archive, manifest):
        _refuse(file, manifest)
        if not replace and _is_taken(folder):
            raise InputError(
                "This folder is a workspace already.",
                source=str(folder),
                remedy="name another folder with --workspace, or give --replace",
            )
        is_new = not folder.exists()
        _make_folders(folder)
        try:
            with run_lock(folder, wait), writers_lock(folder / WAREHOUSE, wait):
                _complete(folder)
                kept = None if discard else _free_name(folder)
                erased = _stage(archive, manifest, folder, kept)
                _complete(folder)
        except BaseException:
            if is_new and not _is_taken(folder):
                shutil.rmtree(folder, ignore_errors=True)
            raise
    return Restored(
        folder=folder,
        files=len(manifest.members),
        rows=sum(rows for rows, _ in manifest.tables.values()),
        kept=kept if kept is not None and kept.exists() else None,
        left_out=manifest.left_out,
        erased=erased,
    )


def finish_restore(folder: Path) -> None:
    """Finish a restore that was cut off when all of it had been checked.

    Called whenever a workspace is opened: the state before a restore or that after
    it is seen, never a part of each.

    Parameters
    ----------
    folder : Path
        A workspace.
    """
    if (folder / STAGING / _READY).exists():
        with (
            run_lock(folder, _PATIENCE),
            writers_lock(folder / WAREHOUSE, _PATIENCE),
        ):
            _complete(folder)


def _stage(
    archive: zipfile.ZipFile, manifest: Manifest, folder: Path, kept: Path | None
) -> Again | None:
    """Unpack and check all of a backup beside what is there."""
    file, warehouse = Path(str(archive.filename)), folder / WAREHOUSE
    staging = folder / STAGING
    try:
        new = _empty(staging) / _NEW
        new.mkdir(mode=0o700)
        unpack(archive, manifest.members, new, file)
        _check_unpacked(new, manifest, file)
        present = warehouse if warehouse.exists() else None
        erased = after_restore(present, new / WAREHOUSE)
        _make_ready(folder, kept)
    except BaseException:
        shutil.rmtree(staging, ignore_errors=True)
        raise
    return erased


def _refuse(file: Path, manifest: Manifest) -> None:
    """Refuse a backup of a newer version, or without what makes a workspace."""
    if manifest.schema_version > SCHEMA_VERSION:
        raise BackupError(
            f"The backup holds a warehouse of schema version "
            f"{manifest.schema_version}; this claimlens reads up to version "
            f"{SCHEMA_VERSION}.",
            source=str(file),
            remedy="use the newer claimlens that wrote it",
        )
    if not {WAREHOUSE, SETTINGS_FILE} <= set(manifest.members):
        raise BackupError(
            "The backup holds no whole workspace.",
            source=str(file),
            remedy="use another copy of it; nothing was changed",
        )


def _is_taken(folder: Path) -> bool:
    return (folder / SETTINGS_FILE).exists() or (folder / WAREHOUSE).exists()


def _make_folders(folder: Path) -> None:
    try:
        for part in (folder, folder / "inbox", folder / "out"):
            part.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise write_error(
            "The workspace cannot be made",
            error,
            source=str(folder),
            remedy="choose a folder that can be written",
        ) from error


def _empty(staging: Path) -> Path:
    """Return the staging folder, with nothing left of a restore that was cut off."""
    shutil.rmtree(staging, ignore_errors=True)
    staging.mkdir(mode=0o700)
    return staging


def _check_unpacked(new: Path, manifest: Manifest, file: Path) -> None:
    """Refuse a backup whose warehouse or settings are not what it says they are."""
    settings = read_settings(new / SETTINGS_FILE)
    named = {Path(name).as_posix() for name in own_files(settings)}
    foreign = [
        name
        for name in manifest.members
        if name not in (WAREHOUSE, SETTINGS_FILE, *named)
        and not name.startswith(("model/", "inbox/"))
    ]
    if foreign or any(_is_reserved(name) for name in named & set(manifest.members)):
        raise BackupError(
            f"The backup holds files that belong to no workspace: "
            f"{', '.join(repr(name) for name in sorted(foreign)[:3])}.",
            source=str(file),
            remedy="use a backup that claimlens wrote; nothing was changed",
        )
    contents = contents_of(new / WAREHOUSE, named=str(file))
    differing = sorted(
        name
        for name in contents.tables.keys() | manifest.tables.keys()
        if contents.tables.get(name) != manifest.tables.get(name)
    )
    if differing or contents.version != manifest.schema_version:
        raise BackupError(
            f"The tables of the backup are not what it lists: "
            f"{', '.join(differing[:5]) or 'another version'}.",
            source=str(file),
            remedy="use another copy of it; nothing was changed",
        )


def _is_reserved(name: str) -> bool:
    """Tell a path that only claimlens itself writes to."""
    first = name.split("/", maxsplit=1)[0]
    return first in ("log", "out", "cache", STAGING) or first.endswith(
        (".lock", ".holder", ".draft", ".wal")
    )


def _free_name(folder: Path) -> Path:
    """Return the first name that no earlier restore has taken."""
    number = 1
    while (folder / f"before-restore-{number}").exists():
        number += 1
    return folder / f"before-restore-{number}"


def _make_ready(folder: Path, kept: Path | None) -> None:
    """Note what is to be moved where: from here on the restore will be finished."""
    staging = folder / STAGING
    new = staging / _NEW
    found = [
        path.relative_to(new).as_posix()
        for path in new.rglob("*")
        # the writers' lock of the draft stays behind
        if path.is_file() and not path.name.startswith(f"{WAREHOUSE}.")
    ]
    names = sorted(found, key=lambda name: (name == WAREHOUSE, name))
    gone = sorted(
        path.relative_to(folder).as_posix()
        for path in (folder / "model").rglob("*")
        if path.is_file() and path.relative_to(folder).as_posix() not in names
    )
    for name in names:
        if (folder / name).is_dir():
            raise InputError(
                "A folder stands where a file of the backup belongs.",
                source=str(folder / name),
                remedy="move it away; nothing was changed",
            )
    told = {"kept": None if kept is None else kept.name, "files": names, "gone": gone}
    draft = staging / "ready.draft"
    with draft.open("w", encoding="utf-8") as file:
        json.dump(told, file)
        file.flush()
        os.fsync(file.fileno())
    for part in {(staging / _NEW / name).parent for name in names} | {staging}:
        sync_folder(part)
    os.replace(draft, staging / _READY)
    sync_folder(staging)


def _complete(folder: Path) -> None:
    """Move what is ready into its place; each step can be done again after a kill."""
    staging = folder / STAGING
    if not (staging / _READY).exists():
        return
    told = _read_ready(staging / _READY)
    kept = None if told["kept"] is None else folder / str(told["kept"])
    try:
        for name in told["gone"]:
            _keep(folder, name, kept)
            (folder / name).unlink(missing_ok=True)
        for name in told["files"]:
            _move(folder, name, kept)
        shutil.rmtree(folder / "cache", ignore_errors=True)
        sync_folder(folder)
        # first the note, so that nobody takes the rest for a restore to be finished
        (staging / _READY).unlink()
        shutil.rmtree(staging, ignore_errors=True)
    except OSError as error:
        raise write_error(
            "The restore cannot be finished",
            error,
            source=str(folder),
            remedy="make the folder writable; the next command finishes it",
        ) from error


def _read_ready(path: Path) -> dict[str, Any]:
    """Read what is to be moved; a workspace may come by mail, and this file with it."""
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        names = [*told["files"], *told["gone"]]
        if told["kept"] is not None:
            names.append(told["kept"])
        if not all(is_safe_name(name) for name in names):
            raise ValueError
    except (ValueError, KeyError, TypeError) as error:
        raise BackupError(
            "The note of a restore that was cut off cannot be read.",
            source=str(path),
            remedy=f"remove the folder {STAGING} and restore again",
        ) from error
    return dict(told)


def _move(folder: Path, name: str, kept: Path | None) -> None:
    """Rename one file into its place, what stood there being kept."""
    staged, target = folder / STAGING / _NEW / name, folder / name
    if not staged.exists():
        return
    _keep(folder, name, kept)
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    if target.exists():
        # whom the owner let read it may go on
        staged.chmod(target.stat().st_mode & 0o777)
    if name == WAREHOUSE:
        _keep(folder, log_of(target).name, kept)
        log_of(target).unlink(missing_ok=True)
    os.replace(staged, target)
    sync_folder(target.parent)


def _keep(folder: Path, name: str, kept: Path | None) -> None:
    """Give a file a second name in the folder of what was replaced."""
    source = folder / name
    if kept is None or not source.exists() or (kept / name).exists():
        return
    kept.mkdir(mode=0o700, exist_ok=True)
    (kept / name).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with suppress(OSError):
        os.link(source, kept / name)
        return
    # a file system without links
    draft = kept / f"{Path(name).name}.draft"
    shutil.copy2(source, draft)
    os.replace(draft, kept / name)
