"""Unpack a file piece by piece, and stop before it fills memory or disk."""

from __future__ import annotations

import gzip
import io
from pathlib import Path
from typing import IO, cast

from claimlens.errors import SourceError
from claimlens.settings.limits import MEGA, LimitSettings

__all__ = ["Counter", "open_bytes", "too_large"]

_BLOCK = 1 << 20
_GIVEN_UP = "what it holds was not unpacked any further"


def too_large(path: Path, what: str, setting: str, allowed: str) -> SourceError:
    """Return the refusal of a file beyond a limit.

    Parameters
    ----------
    path : Path
        The file.
    what : str
        What is too large, as a sentence without its stop.
    setting : str
        Key below ``[limits]``.
    allowed : str
        What is allowed.

    Returns
    -------
    SourceError
        Names the limit and how to raise it.
    """
    return SourceError(
        f"{what}; {allowed} are allowed.",
        source=str(path),
        remedy="make sure that the file is what it should be, then split it, or "
        f"raise `{setting}` under [limits] in claimlens.toml",
    )


class Counter:
    """Counts what comes out of a packed file and refuses too much of it.

    Parameters
    ----------
    path : Path
        The file, for the message.
    packed : int
        Its size.
    most : int
        Bytes that may come out.
    setting : str
        The limit that ``most`` is, a key below ``[limits]``.
    limits : LimitSettings
        The ratio that is allowed, and from where on it is asked for.
    """

    def __init__(
        self, path: Path, packed: int, most: int, setting: str, limits: LimitSettings
    ) -> None:
        self._path = path
        self._packed = packed
        self._most = most
        self._setting = setting
        self._limits = limits
        self.total = 0

    def add(self, number: int) -> None:
        """Count bytes that came out.

        Raises
        ------
        SourceError
            If the file unpacks to more than is allowed, as a whole or against its
            own size.
        """
        self.total += number
        limits = self._limits
        if self.total > self._most:
            raise too_large(
                self._path,
                f"The packed file unpacks to more than {self._most // MEGA:,} MB; "
                f"{_GIVEN_UP}",
                self._setting,
                f"{self._most // MEGA:,} MB",
            )
        if self.total > max(limits.ratio_from_mb * MEGA, limits.ratio * self._packed):
            raise too_large(
                self._path,
                f"The packed file unpacks to more than {limits.ratio:,} times its "
                f"size, as no table does; {_GIVEN_UP}",
                "ratio",
                f"{limits.ratio:,} times",
            )


class _Unpacked(io.RawIOBase):
    """The bytes of a gzip file, counted."""

    def __init__(self, path: Path, limits: LimitSettings) -> None:
        self._stream = gzip.GzipFile(path, "rb")
        most = limits.unpacked_mb * MEGA
        size = path.stat().st_size
        self._counter = Counter(path, size, most, "unpacked_mb", limits)

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: object) -> int:
        view = memoryview(cast("bytearray", buffer))
        piece = self._stream.read(len(view))
        self._counter.add(len(piece))
        view[: len(piece)] = piece
        return len(piece)

    def close(self) -> None:
        self._stream.close()
        super().close()


def open_bytes(path: Path, *, compressed: bool, limits: LimitSettings) -> IO[bytes]:
    """Open a file for reading its (unpacked) bytes.

    Parameters
    ----------
    path : Path
        The file.
    compressed : bool
        Packed with gzip.
    limits : LimitSettings
        How much may come out of it; reading further raises ``SourceError``.

    Returns
    -------
    IO of bytes
        To be closed by the caller.
    """
    if compressed:
        unpacked = io.BufferedReader(_Unpacked(path, limits), _BLOCK)
        return cast("IO[bytes]", unpacked)
    return path.open("rb")
