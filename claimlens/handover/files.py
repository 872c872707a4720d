"""Files put in their place whole or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from claimlens.errors import InputError, write_error

__all__ = [
    "append_private",
    "check_target",
    "draft_beside",
    "make_private",
    "placing",
    "placing_all",
    "private_draft",
    "write_bytes",
    "write_text",
]

# Windows would otherwise write a second byte at each end of a line
_BINARY = getattr(os, "O_BINARY", 0)
# a workspace may come by mail: a link in it could lead to a file that a shell reads
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_OWNER_ONLY = 0o600


def make_private(folder: Path) -> None:
    """Make a folder that only its owner may enter; one that is there stays as it is.

    Parameters
    ----------
    folder : Path
        Its parent is there.

    Raises
    ------
    InputError
        If it cannot be made.
    """
    with _writable(folder):
        folder.mkdir(mode=0o700, exist_ok=True)


def append_private(text: str, path: Path) -> None:
    """Append to a file that only its owner may read, and never through a link.

    Parameters
    ----------
    text : str
        What is added.
    path : Path
        The file; made, with its folder, where it is not there.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    path.parent.mkdir(mode=0o700, exist_ok=True)
    flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | _NO_LINK
    handle = os.open(path, flags, _OWNER_ONLY)
    with os.fdopen(handle, "ab") as file:
        file.write(text.encode("utf-8", "backslashreplace"))
    path.chmod(_OWNER_ONLY)


@contextmanager
def private_draft(path: Path, mark: str = "") -> Iterator[Path]:
    """Make a folder beside a file for drafts of it; only its owner may enter.

    Parameters
    ----------
    path : Path
        What the drafts are to become.
    mark : str, optional
        Tells a second such folder from the first.

    Yields
    ------
    Path
        The folder; gone afterwards.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    folder = draft_beside(path.with_name(f"{path.name}{mark}"))
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def write_text(text: str, path: Path, *, overwrite: bool) -> None:
    """Write a text file whole or not at all.

    Parameters
    ----------
    text : str
        The contents.
    path : Path
        Target.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or its folder is not there.
    """
    write_bytes(text.encode("utf-8"), path, overwrite=overwrite)


def write_bytes(contents: bytes, path: Path, *, overwrite: bool) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    contents : bytes
        The contents.
    path : Path
        Target.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or its folder is not there.
    """
    with placing(path, overwrite=overwrite) as write:
        write(contents)


@contextmanager
def placing(path: Path, *, overwrite: bool) -> Iterator[Callable[[bytes], None]]:
    """Write a file beside its place; put it there when all else went well.

    Parameters
    ----------
    path : Path
        Target.
    overwrite : bool
        Whether an existing file may be replaced.

    Yields
    ------
    callable
        Takes the contents.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or its folder is not there.
    """
    check_target(path, overwrite=overwrite)
    draft = draft_beside(path)

    def write(contents: bytes) -> None:
        _write_draft(path, draft, contents)

    try:
        yield write
        with _writable(path):
            draft.replace(path)
    finally:
        _remove(draft)


@contextmanager
def placing_all(
    paths: Sequence[Path], *, overwrite: bool
) -> Iterator[Callable[[Path, bytes], None]]:
    """Write several files beside their places; put all there, or none.

    Parameters
    ----------
    paths : sequence of Path
        Targets, put in place in this order: the one that others look for comes
        last.
    overwrite : bool
        Whether existing files may be replaced.

    Yields
    ------
    callable
        Takes a target and its contents.

    Raises
    ------
    InputError
        If a file exists and may not be replaced, or cannot be written; then each
        is what it was before.
    """
    for path in paths:
        check_target(path, overwrite=overwrite)
    drafts = {path: draft_beside(path) for path in paths}

    def write(path: Path, contents: bytes) -> None:
        _write_draft(path, drafts[path], contents)

    try:
        yield write
        _place_drafts(drafts)
    finally:
        for draft in drafts.values():
            _remove(draft)


def _place_drafts(drafts: Mapping[Path, Path]) -> None:
    """Rename each draft; where one cannot be, give the earlier ones back."""
    placed: dict[Path, bytes | None] = {}
    try:
        for path, draft in drafts.items():
            with _writable(path):
                before = path.read_bytes() if path.exists() else None
                draft.replace(path)
            placed[path] = before
    except InputError:
        for path, contents in placed.items():
            if contents is None:
                path.unlink(missing_ok=True)
            else:
                _write_draft(path, drafts[path], contents)
                drafts[path].replace(path)
        raise


def _remove(draft: Path) -> None:
    # on a disk that is read-only this is refused as well, and would hide why
    with suppress(OSError):
        draft.unlink(missing_ok=True)


def draft_beside(path: Path) -> Path:
    """Return a name beside a file that no other process writes to.

    Parameters
    ----------
    path : Path
        What the draft is to become; `claimlens.runs.remove_drafts` knows the drafts of
        processes that were killed.
    """
    return path.with_name(f".{path.name}.{os.getpid()}.draft")


def _write_draft(path: Path, draft: Path, contents: bytes) -> None:
    """Write the draft; no more people may read it than may look into its folder."""
    with _writable(path):
        rights = 0o666 & path.parent.stat().st_mode
        # what lies there is a killed writer's, or a link that somebody else laid
        draft.unlink(missing_ok=True)
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, rights)
    with _writable(path), os.fdopen(handle, "wb") as file:
        file.write(contents)
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def _writable(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise write_error(
            "The file cannot be written",
            error,
            source=str(path),
            remedy="choose a folder that exists and can be written",
        ) from error


def check_target(path: Path, *, overwrite: bool) -> None:
    """Raise ``InputError`` if a file is there and may not be replaced."""
    if path.exists() and not overwrite:
        raise InputError(
            "The file is there already.",
            source=str(path),
            remedy="choose another name, or give --replace",
        )
