"""What runs did, one JSON object a line; the only place where a clock is read.

No text that people wrote comes into it: files, counts, claim numbers, components
and our own sentences only.
"""

from __future__ import annotations

import json
import os
import re
from datetime import UTC, datetime
from pathlib import Path

from claimlens.errors import ClaimlensError, InputError, write_error
from claimlens.handover import append_private, write_bytes
from claimlens.marks import visible

__all__ = ["RunLog", "safe_reason"]

_MOST_BYTES = 1_000_000
_KEPT_BYTES = 500_000
_OWNER_ONLY = 0o600

Field = str | int | float | bool | None | dict[str, int] | list[str]


class RunLog:
    """The log of one run; earlier runs stand above it.

    Parameters
    ----------
    path : Path
        The file; made, with its folder, where it is not there. Readable by its owner
        only, and never much longer than a million bytes: the oldest lines go first.

    Raises
    ------
    InputError
        If it cannot be written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(mode=0o700, exist_ok=True)
            self._shorten()
            self.was_cut_off = self._last_event() not in (None, "end")
        except OSError as error:
            raise self._fault(error) from error
        self._run = f"{datetime.now(UTC):%Y%m%dT%H%M%SZ}-{os.getpid()}"

    def write(self, event: str, **fields: Field) -> None:
        """Append one line.

        Parameters
        ----------
        event : str
            start, file, skipped, arrival, alarm, retention, report, removed or end.
        **fields
            What is to be told of it.
        """
        at = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        line = {"at": at, "run": self._run, "event": event, **fields}
        text = visible(json.dumps(line, ensure_ascii=False, allow_nan=False)) + "\n"
        try:
            append_private(text, self.path)
        except OSError as error:
            raise self._fault(error) from error

    def _fault(self, error: OSError) -> InputError:
        return write_error(
            "The log cannot be written",
            error,
            source=str(self.path),
            remedy="make the folder writable",
        )

    def _shorten(self) -> None:
        """Drop the oldest lines of a log that has grown long."""
        if not self.path.exists() or self.path.stat().st_size <= _MOST_BYTES:
            return
        newest = self.path.read_bytes()[-_KEPT_BYTES:]
        # the first line is cut somewhere
        write_bytes(newest.partition(b"\n")[2], self.path, overwrite=True)
        self.path.chmod(_OWNER_ONLY)

    def _last_event(self) -> str | None:
        """Return the event of the last line; None where there is none."""
        if not self.path.exists():
            return None
        with self.path.open("rb") as file:
            file.seek(max(self.path.stat().st_size - 65_536, 0))
            lines = file.read().splitlines()
        try:
            return str(json.loads(lines[-1])["event"])
        except (IndexError, ValueError, KeyError, TypeError):
            return None


def safe_reason(error: BaseException) -> str:
    """Say why a run failed, without any word that may come from the data.

    Parameters
    ----------
    error : BaseException
        What stopped it.

    Returns
    -------
    str
        Kind and place of the fault, and its sentence with what it quotes left out;
        of a fault that was not foreseen its kind alone.
    """
    kind = type(error).__name__
    if not isinstance(error, ClaimlensError):
        return kind
    # what is quoted, or listed behind a colon, comes from files
    told = re.sub(r"'[^']*'|\"[^\"]*\"", "...", error.problem)
    told = re.split(r":\s", told)[0].rstrip(".")
    file = Path(error.source).name if error.source else ""
    return f"{kind}: {told}" + (f" ({file})" if file else "")
