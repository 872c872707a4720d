"""The files of a backup, checked before anything rests on them."""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from claimlens.errors import BackupError, InputError, write_error
from claimlens.upkeep.manifest import (
    MANIFEST,
    Manifest,
    Member,
    entry_of,
    read_manifest,
)

__all__ = ["open_backup", "unpack"]

_CHUNK = 1 << 20
_MOST_ENTRIES = 100_000
_LARGEST_MANIFEST = 64 << 20


@contextmanager
def open_backup(path: Path) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """Open a backup and hold its entries against its list of contents.

    Parameters
    ----------
    path : Path
        The file.

    Yields
    ------
    archive : ZipFile
        Holds what the list names, each once, as plain files of these sizes.
    manifest : Manifest
        The list.

    Raises
    ------
    InputError
        If the file is not there or cannot be read.
    BackupError
        If it is no backup, or not to be trusted.
    """
    try:
        archive = zipfile.ZipFile(path)
    except FileNotFoundError:
        raise InputError(
            "There is no such file.",
            source=str(path),
            remedy="name a file that claimlens backup wrote",
        ) from None
    except OSError as error:
        raise InputError(
            f"The backup cannot be read: {error.strerror or error}.",
            source=str(path),
            remedy="name a file that claimlens backup wrote and you may read",
        ) from error
    except (zipfile.BadZipFile, NotImplementedError, ValueError) as error:
        raise _damaged(path, "it is no whole archive") from error
    with archive:
        with _damage_explained(path):
            entries = _entries_of(archive, path)
            text = _read_manifest_bytes(archive, entries, path)
        manifest = read_manifest(text, str(path))
        _hold_against(entries, manifest, path)
        yield archive, manifest


def unpack(
    archive: zipfile.ZipFile, members: Mapping[str, Member], folder: Path, source: Path
) -> None:
    """Write files of a backup below a folder, each of the size and digest listed.

    Parameters
    ----------
    archive : ZipFile
        From `open_backup`.
    members : mapping of str to Member
        Those wanted, by their path in the workspace.
    folder : Path
        Empty; only its owner may enter.
    source : Path
        The backup, for messages.

    Raises
    ------
    BackupError
        If a file is not what the list says, or there is no room for all of them.
    InputError
        If one cannot be written.
    """
    needed = sum(member.size for member in members.values())
    if needed > shutil.disk_usage(folder).free:
        raise InputError(
            f"The files of the backup take {needed:,} bytes; the disk has not so many "
            "free.",
            source=str(folder),
            remedy="free some disk space; nothing was changed",
        )
    for name, member in members.items():
        target = folder / name
        try:
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with _damage_explained(source):
                _unpack_one(archive, name, member, target)
        except OSError as error:
            raise write_error(
                "The file cannot be written",
                error,
                source=str(target),
                remedy="make the folder writable; nothing was changed",
            ) from error


def _unpack_one(
    archive: zipfile.ZipFile, name: str, member: Member, target: Path
) -> None:
    digest, left = hashlib.sha256(), member.size
    handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with archive.open(entry_of(name)) as packed, os.fdopen(handle, "wb") as file:
        while chunk := packed.read(_CHUNK):
            left -= len(chunk)
            if left < 0:
                break
            digest.update(chunk)
            file.write(chunk)
        file.flush()
        os.fsync(file.fileno())
    if left or digest.hexdigest() != member.sha256:
        raise zipfile.BadZipFile(f"{name} is not what the list of contents says")


def _entries_of(archive: zipfile.ZipFile, path: Path) -> dict[str, zipfile.ZipInfo]:
    """Return the entries by name; refuse all but plain files, each once."""
    listed = archive.infolist()
    if len(listed) > _MOST_ENTRIES:
        raise _damaged(path, f"it has {len(listed):,} entries")
    entries: dict[str, zipfile.ZipInfo] = {}
    for entry in listed:
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if entry.filename != entry.orig_filename or entry.filename in entries:
            raise _damaged(path, "two of its entries have one name")
        if entry.is_dir() or kind not in (0, stat.S_IFREG) or entry.flag_bits & 1:
            raise _damaged(path, "it holds something else than plain files")
        entries[entry.filename] = entry
    return entries


def _read_manifest_bytes(
    archive: zipfile.ZipFile, entries: Mapping[str, zipfile.ZipInfo], path: Path
) -> bytes:
    entry = entries.get(MANIFEST)
    if entry is None:
        raise _damaged(path, "it has no list of contents")
    with archive.open(entry) as packed:
        text = packed.read(_LARGEST_MANIFEST + 1)
    if len(text) > _LARGEST_MANIFEST:
        raise _damaged(path, "its list of contents is too long")
    return text


def _hold_against(
    entries: Mapping[str, zipfile.ZipInfo], manifest: Manifest, path: Path
) -> None:
    """Refuse a backup that holds other files than it lists."""
    listed = {entry_of(name): member for name, member in manifest.members.items()}
    if set(entries) - {MANIFEST} != set(listed):
        raise _damaged(path, "its files are not those that it lists")
    if any(entries[name].file_size != member.size for name, member in listed.items()):
        raise _damaged(path, "its files are not of the sizes that it lists")


@contextmanager
def _damage_explained(path: Path) -> Iterator[None]:
    try:
        yield
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,
        RuntimeError,
    ) as error:
        raise _damaged(path, str(error) or "it is cut off") from error


def _damaged(path: Path, what: str) -> BackupError:
    return BackupError(
        f"The backup is damaged or not ours: {what}.",
        source=str(path),
        remedy="use another copy of it; nothing was changed",
    )
