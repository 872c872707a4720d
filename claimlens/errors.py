"""Every error and warning class of claimlens; imports nothing of ours."""

from __future__ import annotations

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
]


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
