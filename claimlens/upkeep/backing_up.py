"""A workspace in one file: warehouse, settings, terms, model, inbox if wanted."""

from __future__ import annotations

import hashlib
import os
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from claimlens.db.contents import contents_of, whole_copy
from claimlens.errors import InputError, write_error
from claimlens.handover import check_target, private_draft
from claimlens.settings import SETTINGS_FILE, Settings
from claimlens.upkeep.manifest import (
    MANIFEST,
    WAREHOUSE,
    Manifest,
    Member,
    entry_of,
    is_safe_name,
)
from claimlens.version import __version__

__all__ = ["Backup", "back_up", "own_files"]

_CHUNK = 1 << 20
# quick, and a warehouse is mostly packed already
_LEVEL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup that was written.

    Parameters
    ----------
    path : Path
        The file.
    files : int
        How many files it holds.
    rows : int
        Rows of all tables.
    left_out : tuple of str
        Files that the settings name and that lie outside the workspace.
    """

    path: Path
    files: int
    rows: int
    left_out: tuple[str, ...]


def own_files(settings: Settings) -> tuple[str, ...]:
    """Return the files that the settings name: taxonomy, terms, old names."""
    own = settings.classify
    named = (own.components, own.failure_modes, own.label_map, own.terms)
    return tuple(dict.fromkeys(name for name in named if name))


def back_up(
    folder: Path,
    settings: Settings,
    target: Path,
    *,
    with_inbox: bool = False,
    overwrite: bool = False,
    wait: float = 0.0,
    limits: Mapping[str, str] | None = None,
) -> Backup:
    """Write a workspace into one file.

    Parameters
    ----------
    folder : Path
        The workspace.
    settings : Settings
        Read from it.
    target : Path
        The file; written beside its place and renamed, readable by its owner only.
    with_inbox : bool, default False
        Whether the files of the inbox go along.
    overwrite : bool, default False
        Whether a file that is there may be replaced.
    wait : float, default 0
        Seconds to wait for a writer.
    limits : mapping, optional
        Of the engine.

    Raises
    ------
    InputError
        If the file is there already or cannot be written.
    LockedError, WarehouseError
        If the warehouse is being written to, or cannot be read.
    """
    check_target(target, overwrite=overwrite)
    inside, left_out = _named_files(folder, settings)
    with _private_folder(target) as beside:
        copy = beside / WAREHOUSE
        whole_copy(folder / WAREHOUSE, copy, wait=wait)
        contents = contents_of(copy, named=str(folder / WAREHOUSE), limits=limits)
        sources = {WAREHOUSE: copy, **inside}
        for part in ("model", *(["inbox"] if with_inbox else [])):
            sources.update(_files_below(folder, part))
        draft = beside / "backup.zip"
        members = _write_archive(draft, sources, target)
        manifest = Manifest(
            version=__version__,
            schema_version=contents.version,
            tables=contents.tables,
            members=members,
            left_out=left_out,
        )
        with (
            _writable(target),
            zipfile.ZipFile(draft, "a", zipfile.ZIP_DEFLATED) as archive,
            archive.open(MANIFEST, "w") as written,
        ):
            written.write(manifest.text().encode("utf-8"))
        _put_in_place(draft, target, overwrite=overwrite)
    return Backup(
        path=target,
        files=len(members),
        rows=sum(rows for rows, _ in contents.tables.values()),
        left_out=left_out,
    )


def _named_files(
    folder: Path, settings: Settings
) -> tuple[dict[str, Path], tuple[str, ...]]:
    """Return settings and their files inside the workspace, and names of the rest."""
    inside = {SETTINGS_FILE: folder / SETTINGS_FILE}
    left_out = []
    for name in own_files(settings):
        portable = Path(name).as_posix()
        if is_safe_name(portable):
            inside[portable] = folder / name
        else:
            left_out.append(name)
    return inside, tuple(left_out)


def _files_below(folder: Path, part: str) -> dict[str, Path]:
    """Return the plain files of a folder of the workspace, in a fixed order."""
    found = {}
    for path in sorted((folder / part).rglob("*")):
        name = path.relative_to(folder).as_posix()
        # a half-written file of another process is nobody's
        is_draft = any(
            part.startswith(".") and part.endswith(".draft") for part in path.parts
        )
        if path.is_file() and is_safe_name(name) and not is_draft:
            found[name] = path
    return found


@contextmanager
def _private_folder(target: Path) -> Iterator[Path]:
    """Make a folder for drafts; say of the backup that it could not be made."""
    with ExitStack() as held:
        with _writable(target):
            beside = held.enter_context(private_draft(target))
        yield beside


def _write_archive(
    draft: Path, sources: Mapping[str, Path], target: Path
) -> dict[str, Member]:
    """Write all files into an archive; return what was written of each."""
    members = {}
    with (
        _writable(target),
        zipfile.ZipFile(
            draft, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL
        ) as archive,
    ):
        for name, path in sources.items():
            try:
                source = path.open("rb")
            except FileNotFoundError:
                raise InputError(
                    "A file that belongs to the workspace is not there.",
                    source=str(path),
                    remedy="put it back, or take its name out of claimlens.toml",
                ) from None
            with source, archive.open(entry_of(name), "w", force_zip64=True) as written:
                members[name] = _copied(source, written)
    return members


def _copied(source: IO[bytes], written: IO[bytes]) -> Member:
    """Copy a file; return size and digest of the bytes that were copied."""
    digest, size = hashlib.sha256(), 0
    while chunk := source.read(_CHUNK):
        digest.update(chunk)
        size += len(chunk)
        written.write(chunk)
    return Member(size, digest.hexdigest())


def _put_in_place(draft: Path, target: Path, *, overwrite: bool) -> None:
    """Rename the finished backup; it is on the disk before its name is."""
    with _writable(target):
        draft.chmod(0o600)
        with draft.open("rb+") as handle:
            os.fsync(handle.fileno())
        # another process may have put a file there meanwhile
        check_target(target, overwrite=overwrite)
        os.replace(draft, target)


@contextmanager
def _writable(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise write_error(
            "The backup cannot be written",
            error,
            source=str(target),
            remedy="choose a folder that exists, can be written",
        ) from error
