"""Which files a call means: files, folders and patterns."""

from __future__ import annotations

import glob
import stat
from collections.abc import Iterable, Iterator
from fnmatch import fnmatchcase
from pathlib import Path

from claimlens.errors import SourceError

__all__ = ["NamedFile", "Stamp", "check_inside", "check_is_file", "expand", "stamp"]

NamedFile = tuple[Path, Path | None]
"""A file, and the folder it was found in; None where it was named outright."""

Stamp = tuple[int, int, int, int]
"""What changes when a file does: device, number, size, time of change."""

# a folder that is called like an export is told; others are somebody's order
_EXPORT_NAMES = (
    *("*.csv", "*.tsv", "*.txt", "*.json", "*.jsonl", "*.parquet", "*.gz"),
    *("*.xls", "*.xls?", "*.ods"),
)
_KINDS = (
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISCHR, "a device"),
)


def expand(paths: Iterable[str | Path]) -> list[NamedFile]:
    """Return the files that the paths mean, in a fixed order.

    Parameters
    ----------
    paths : iterable of str or Path
        Files, folders (their files, sub-folders left out), or patterns with
        ``*`` and ``?``.

    Returns
    -------
    list of (Path, Path or None)
        Each file once, with the folder it was found in; what stands there in the
        place of a file (a pipe, a link to nowhere) comes along, to be told of.

    Raises
    ------
    SourceError
        If a file is not there or cannot be looked at, or a pattern fits none.
    """
    found: dict[Path, Path | None] = {}
    for given in paths:
        path = Path(given)
        try:
            for file, folder in _meant(path, str(given)):
                if folder is None:
                    found[file] = None
                else:
                    found.setdefault(file, folder)
        except OSError as error:
            raise SourceError(
                f"This cannot be looked at: {error.strerror or error}.",
                source=str(path),
                remedy="check that you may read it",
            ) from error
        except ValueError as error:  # a NUL in the name
            raise SourceError(
                "This is no name of a file.",
                source=ascii(str(path)),
                remedy="check the spelling",
            ) from error
    return list(found.items())


def _meant(path: Path, given: str) -> Iterator[NamedFile]:
    """Yield the files that one path means."""
    if path.is_dir():
        for child in sorted(path.iterdir()):
            if not child.name.startswith((".", "~$")) and _is_offered(child):
                yield child, path
    elif path.exists() or path.is_symlink():
        yield path, None
    elif glob.has_magic(given):
        matches = sorted(Path(match) for match in glob.glob(given))
        if not matches:
            raise SourceError(
                f"No file fits the pattern {given}.",
                remedy="check the folder and the spelling",
            )
        for match in matches:
            if not match.is_dir():
                yield match, None
    else:
        raise SourceError(
            "There is no such file.",
            source=str(path),
            remedy="check the folder and the spelling",
        )


def _is_offered(child: Path) -> bool:
    """Tell whether something in a folder is there to be loaded."""
    if not child.is_dir():
        return True
    lower = child.name.lower()
    return any(fnmatchcase(lower, pattern) for pattern in _EXPORT_NAMES)


def check_inside(path: Path, folder: Path | None) -> None:
    """Refuse a link that leads out of the folder it was found in.

    Parameters
    ----------
    path : Path
        The file.
    folder : Path or None
        Where it was found; None for a file that was named outright.

    Raises
    ------
    SourceError
        If what it stands for lies elsewhere: whoever can write into the folder
        could otherwise have any file of this machine read.
    """
    if folder is None or not path.is_symlink():
        return
    try:
        is_inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        is_inside = False  # a circle of links
    if not is_inside:
        raise SourceError(
            "This is a link that leads out of its folder.",
            source=str(path),
            remedy="put the file itself there, or name it to claimlens ingest",
        )


def check_is_file(path: Path) -> None:
    """Refuse what is no file: opening a pipe would wait for ever.

    Parameters
    ----------
    path : Path
        What is to be opened.

    Raises
    ------
    SourceError
        If it is not there, or is a folder, a pipe, a socket or a device.
    """
    try:
        mode = path.stat().st_mode
    except FileNotFoundError as error:
        raise SourceError(
            "The link leads to no file."
            if path.is_symlink()
            else "The file does not exist.",
            source=str(path),
            remedy="check the name and the folder",
        ) from error
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else None
        raise SourceError(
            f"The file cannot be opened: {why or error}.",
            source=str(path),
            remedy="check the name, and that you may read it",
        ) from error
    if stat.S_ISREG(mode):
        return
    if stat.S_ISDIR(mode):
        raise SourceError(
            "This is a folder, not a file.",
            source=str(path),
            remedy="name a file in it",
        )
    what = next((name for test, name in _KINDS if test(mode)), "something else")
    raise SourceError(
        f"This is {what}, not a file.",
        source=str(path),
        remedy="put the export there as a file",
    )


def stamp(path: Path) -> Stamp:
    """Return what tells whether a file has changed since.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Stamp
        To be compared with a later one.
    """
    told = path.stat()
    return told.st_dev, told.st_ino, told.st_size, told.st_mtime_ns
