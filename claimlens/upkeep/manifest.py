"""What a backup says of itself: its files, their digests, the rows of its tables."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from claimlens.errors import BackupError

__all__ = [
    "MANIFEST",
    "WAREHOUSE",
    "Manifest",
    "Member",
    "entry_of",
    "is_safe_name",
    "read_manifest",
]

MANIFEST = "manifest.json"
WAREHOUSE = "warehouse.duckdb"
_FORMAT, _VERSION = "claimlens backup", 1
_SHA = re.compile(r"[0-9a-f]{64}")
_TABLE = re.compile(r"[a-z_]{1,100}")
_NO_FILE_NAME = re.compile(r'[\x00-\x1f\\:*?"<>|]')


@dataclass(frozen=True, slots=True)
class Member:
    """One file of a backup.

    Parameters
    ----------
    size : int
        In bytes.
    sha256 : str
        Of its bytes.
    """

    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup holds.

    Parameters
    ----------
    version : str
        The claimlens that wrote it.
    schema_version : int
        Of the warehouse's tables.
    tables : mapping of str to (int, str)
        Rows and digest of each table.
    members : mapping of str to Member
        Files, by their path in the workspace.
    left_out : tuple of str
        Files that the settings name and that lie outside the workspace.
    """

    version: str
    schema_version: int
    tables: Mapping[str, tuple[int, str]]
    members: Mapping[str, Member]
    left_out: tuple[str, ...] = ()

    def text(self) -> str:
        """Return it as JSON, the same for the same contents."""
        told = {
            "format": _FORMAT,
            "version": _VERSION,
            "claimlens": self.version,
            "schema_version": self.schema_version,
            "tables": {
                name: {"rows": rows, "digest": digest}
                for name, (rows, digest) in self.tables.items()
            },
            "files": {
                name: {"size": member.size, "sha256": member.sha256}
                for name, member in self.members.items()
            },
            "left_out": list(self.left_out),
        }
        return json.dumps(told, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def entry_of(name: str) -> str:
    """Return the name, inside a backup, of a file of the workspace."""
    return f"workspace/{name}"


def is_safe_name(name: str) -> bool:
    """Tell a path that stays below its folder on every system.

    Parameters
    ----------
    name : str
        As in an archive, with ``/`` between folders.
    """
    path = PurePosixPath(name)
    return (
        0 < len(name) <= 1000
        and not path.is_absolute()
        and name == path.as_posix()
        and not _NO_FILE_NAME.search(name)
        and all(part not in ("", ".", "..") for part in name.split("/"))
    )


def read_manifest(text: bytes, source: str) -> Manifest:
    """Read a manifest that anybody may have written.

    Parameters
    ----------
    text : bytes
        JSON.
    source : str
        The backup, for messages.

    Raises
    ------
    BackupError
        If it is none of ours, of a newer version, or does not hold together.
    """
    try:
        told = json.loads(text.decode("utf-8"))
        if told["format"] != _FORMAT:
            raise ValueError
        version = int(told["version"])
    except (ValueError, KeyError, TypeError, RecursionError):
        raise _no_backup(source) from None
    if version > _VERSION:
        raise BackupError(
            f"The backup is of version {version}; this claimlens reads up to version "
            f"{_VERSION}.",
            source=source,
            remedy="use the newer claimlens that wrote it",
        )
    try:
        return _typed(told)
    except (ValueError, KeyError, TypeError, AttributeError):
        raise _no_backup(source) from None


def _typed(told: dict[str, object]) -> Manifest:
    """Return the manifest; whatever is amiss with it is a ``ValueError`` or a kin."""
    tables = {
        str(name): (_count(entry["rows"]), _digits(entry["digest"]))
        for name, entry in _items(told["tables"])
    }
    members = {
        str(name): Member(_count(entry["size"]), str(entry["sha256"]))
        for name, entry in _items(told["files"])
    }
    left_out = told["left_out"]
    if (
        not all(_TABLE.fullmatch(name) for name in tables)
        or not all(is_safe_name(name) for name in members)
        or not all(_SHA.fullmatch(member.sha256) for member in members.values())
        or not isinstance(left_out, list)
    ):
        raise ValueError
    return Manifest(
        version=str(told["claimlens"])[:100],
        schema_version=_count(told["schema_version"]),
        tables=tables,
        members=members,
        left_out=tuple(str(name) for name in left_out),
    )


def _items(entries: object) -> list[tuple[str, dict[str, object]]]:
    if not isinstance(entries, dict):
        raise TypeError
    return list(entries.items())


def _count(number: object) -> int:
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        raise ValueError
    return number


def _no_backup(source: str) -> BackupError:
    return BackupError(
        "This is no backup of claimlens, or its list of contents is damaged.",
        source=source,
        remedy="name a file that claimlens backup wrote",
    )


def _digits(digest: object) -> str:
    if not isinstance(digest, str) or not re.fullmatch(r"[0-9]{1,40}", digest):
        raise ValueError
    return digest
