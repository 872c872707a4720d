"""The out tray: which reports are ours, and which are old enough to go."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from claimlens.errors import InputError
from claimlens.handover import write_text

__all__ = ["remember", "remove_drafts", "remove_older"]

# names and digests of what was written here: a file that a person changed since, or
# put here under such a name, is not ours
_LEDGER = ".reports.json"
_REPORT = re.compile(
    r"monthly-(\d{4}-\d{2}-\d{2})(?:-known-\d{4}-\d{2}-\d{2})?\.(?:html|xlsx)"
)
# a file half-written, with the number of the process that wrote it
_DRAFT = re.compile(r"\..+\.(\d{1,10})\.draft")


def remember(out: Path, paths: Sequence[Path]) -> None:
    """Note reports that were just written, so that a later run may remove them.

    Parameters
    ----------
    out : Path
        The out tray.
    paths : sequence of Path
        Files in it.
    """
    told = _read(out)
    told |= {path.name: _digest(path) for path in paths}
    here = {name: digest for name, digest in told.items() if (out / name).exists()}
    text = json.dumps(here, indent=1, sort_keys=True) + "\n"
    write_text(text, out / _LEDGER, overwrite=True)


def remove_older(out: Path, keep: int, spare: Sequence[Path]) -> tuple[str, ...]:
    """Remove the reports of all but the newest cut-offs.

    Parameters
    ----------
    out : Path
        The out tray.
    keep : int
        Cut-offs to keep; 0 keeps all.
    spare : sequence of Path
        Files that stay whatever their cut-off.

    Returns
    -------
    tuple of str
        Names of the files removed: dated reports that claimlens wrote and nobody
        changed since. Files of any other name are not looked at.
    """
    if not keep:
        return ()
    told = _read(out)
    days = {
        name: match.group(1)
        for name in told
        if (match := _REPORT.fullmatch(name)) and (out / name).is_file()
    }
    kept = set(sorted(set(days.values()), reverse=True)[:keep])
    spared = {path.name for path in spare}
    removed = []
    for name, day in sorted(days.items()):
        path = out / name
        if day in kept or name in spared or _digest(path) != told[name]:
            continue
        # one that is open elsewhere goes the next time
        with suppress(OSError):
            path.unlink()
            removed.append(name)
    if removed:
        remember(out, ())
    return tuple(removed)


def remove_drafts(*folders: Path) -> None:
    """Remove what processes that were killed left half-written.

    Parameters
    ----------
    *folders : Path
        Where claimlens writes; one that is not there is passed over. What a process
        that still runs is writing stays.
    """
    for folder in folders:
        if not folder.is_dir():
            continue
        for path in folder.iterdir():
            match = _DRAFT.fullmatch(path.name)
            if match and not _is_at_work(int(match.group(1))):
                with suppress(OSError):
                    if path.is_dir() and not path.is_symlink():
                        shutil.rmtree(path)
                    else:
                        path.unlink()


def _is_at_work(process: int) -> bool:
    """Tell whether a process runs; elsewhere an open file refuses to be removed."""
    if os.name != "posix":
        return False
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _read(out: Path) -> dict[str, str]:
    """Return names and digests; what is no such list counts as none."""
    try:
        told = json.loads((out / _LEDGER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(told, dict):
        return {}
    return {str(name): str(digest) for name, digest in told.items()}


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise InputError(
            f"The report cannot be read: {error.strerror or error}.",
            source=str(path),
            remedy="see that the out tray can be read",
        ) from error
