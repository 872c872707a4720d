"""Every error and warning class of claimlens; imports nothing of ours."""

from __future__ import annotations

import errno
import os

__all__ = [
    "BackupError",
    "CheckError",
    "ClaimlensError",
    "ClaimlensWarning",
    "EmptyFileError",
    "FitError",
    "InputError",
    "LockedError",
    "MappingError",
    "QueryError",
    "ReportError",
    "RowError",
    "SettingsError",
    "SourceError",
    "WarehouseError",
    "WriteError",
    "is_full",
    "write_error",
]

_FULL = (errno.ENOSPC, errno.EDQUOT)


class ClaimlensError(Exception):
    """Root of every error that claimlens raises on purpose.

    The text is built from the fields, so that each message says what
    happened, where, and what to do.

    Parameters
    ----------
    problem : str
        What is wrong, as one sentence with the value received.
    source : str, optional
        File, sheet or table in which it was found.
    line : int, optional
        Line or row of ``source``, counted from 1.
    column : str, optional
        Column of ``source``.
    remedy : str, optional
        What the reader can do about it.
    """

    exit_code = 1

    def __init__(
        self,
        problem: str,
        *,
        source: str | None = None,
        line: int | None = None,
        column: str | None = None,
        remedy: str | None = None,
    ) -> None:
        self.problem = problem
        self.source = source
        self.line = line
        self.column = column
        self.remedy = remedy
        super().__init__(problem)

    def __str__(self) -> str:
        """Return the message: problem, place and remedy on their own lines."""
        place = ", ".join(
            part
            for part in (
                self.source,
                f"line {self.line}" if self.line is not None else None,
                f"column {self.column}" if self.column else None,
            )
            if part
        )
        lines = [self.problem]
        if place:
            lines.append(f"  where: {place}")
        if self.remedy:
            lines.append(f"  to do: {self.remedy}")
        return "\n".join(lines)


class InputError(ClaimlensError, ValueError):
    """An argument breaks the rule of a public function."""

    exit_code = 2


class WriteError(InputError):
    """The file system refused to take a file."""

    # the command was right; the same one may succeed when the disk has been seen to
    exit_code = 1


class SettingsError(ClaimlensError):
    """``claimlens.toml`` cannot be read or holds a value that is not allowed."""

    exit_code = 2


class MappingError(ClaimlensError):
    """Columns of a file do not lead to the fields that its kind needs."""

    exit_code = 2


class SourceError(ClaimlensError):
    """A file, sheet or header cannot be used at all."""


class EmptyFileError(SourceError):
    """A file has no byte that says anything."""


class RowError(ClaimlensError):
    """One row cannot be read; collected and counted, seldom raised."""


class QueryError(ClaimlensError):
    """An SQL file and its header disagree, or the engine refused it."""


class WarehouseError(ClaimlensError):
    """The warehouse file is missing, damaged, or of another version."""


class BackupError(ClaimlensError):
    """A backup is damaged, of another program or version, or not to be trusted."""


class CheckError(ClaimlensError):
    """What must hold in a warehouse does not; no report is made from it."""


class LockedError(WarehouseError):
    """Another process is writing to the warehouse."""


class FitError(ClaimlensError):
    """A fit was asked for something that its likelihood cannot hold."""


class ReportError(ClaimlensError):
    """A report cannot be made from the results at hand."""


class ClaimlensWarning(UserWarning):
    """Root of the warnings that claimlens gives."""


def is_full(error: BaseException) -> bool:
    """Tell whether a file was refused for want of room.

    Parameters
    ----------
    error : BaseException
        Of the system, or of an engine that passes on the system's words only.
    """
    if isinstance(error, OSError):
        return error.errno in _FULL
    return any(os.strerror(code) in str(error) for code in _FULL)


def write_error(
    problem: str, error: BaseException, *, source: str, remedy: str
) -> InputError:
    """Return the error that says why something could not be written.

    Parameters
    ----------
    problem : str
        What could not be done, as a sentence without its full stop.
    error : BaseException
        What the system or the engine said.
    source : str
        The file or folder.
    remedy : str
        What to do unless the disk is full.

    Returns
    -------
    InputError
        To be raised; a `WriteError` unless the place named is not there.
    """
    why = error.strerror if isinstance(error, OSError) else None
    if is_full(error):
        why, remedy = "the disk is full", "free some disk space, then do it again"
    is_missing = isinstance(error, FileNotFoundError | NotADirectoryError)
    kind = InputError if is_missing else WriteError
    told = f"{problem}: {why}." if why else f"{problem}."
    return kind(told, source=source, remedy=remedy)
