"""Which files a call means: files, folders and patterns."""

from __future__ import annotations

import glob
from collections.abc import Iterable
from pathlib import Path

from claimlens.errors import SourceError

__all__ = ["NamedFile", "expand"]

NamedFile = tuple[Path, bool]
"""A file, and whether it was named outright (not found in a folder)."""


def expand(paths: Iterable[str | Path]) -> list[NamedFile]:
    """Return the files that the paths mean, in a fixed order.

    Parameters
    ----------
    paths : iterable of str or Path
        Files, folders (their files, sub-folders left out), or patterns with
        ``*`` and ``?``.

    Returns
    -------
    list of (Path, bool)
        Each file once; True where it was named outright.

    Raises
    ------
    SourceError
        If a file is not there, or a pattern fits none.
    """
    found: dict[Path, bool] = {}
    for given in paths:
        path = Path(given)
        if path.is_dir():
            for child in sorted(path.iterdir()):
                if child.is_file() and not child.name.startswith((".", "~$")):
                    found.setdefault(child, False)
        elif path.is_file():
            found[path] = True
        elif glob.has_magic(str(given)):
            matches = sorted(Path(match) for match in glob.glob(str(given)))
            if not matches:
                raise SourceError(
                    f"No file fits the pattern {given}.",
                    remedy="check the folder and the spelling",
                )
            for match in matches:
                if match.is_file():
                    found.setdefault(match, True)
        else:
            raise SourceError(
                "There is no such file.",
                source=str(path),
                remedy="check the folder and the spelling",
            )
    return list(found.items())
