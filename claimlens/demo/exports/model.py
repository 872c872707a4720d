"""What an export of the demo is, and what a load of it must find."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Export", "FileTruth", "RowTruth"]


@dataclass(frozen=True, slots=True)
class RowTruth:
    """One dirty row.

    Parameters
    ----------
    row : int
        First line of the record in a text file (header included), row of a
        sheet, line of a JSON Lines file; counted from 1.
    column : str or None
        Canonical field at fault; None for the row as a whole.
    why : str
        What is wrong with it.
    """

    row: int
    column: str | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTruth:
    """The account that a load of one file must give for one kind.

    Parameters
    ----------
    file, kind : str
        File name and canonical kind.
    rows_read : int
        Records below the header, rejected ones included.
    rejected : tuple of RowTruth
        Rows that cannot be rows.
    flagged : tuple of RowTruth
        Dirty rows that are kept and flagged, besides those of the world
        itself (faults before delivery, serials in nobody's register).
    superseded : int
        Rows that a later row of the same file replaces.
    skipped_lines : int
        Title, blank, repeated header, total and foot lines.
    added : tuple of str
        Keys of accepted rows that are not part of the world.
    """

    file: str
    kind: str
    rows_read: int
    rejected: tuple[RowTruth, ...] = ()
    flagged: tuple[RowTruth, ...] = ()
    superseded: int = 0
    skipped_lines: int = 0
    added: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """One file of the demo: its bytes, their account, their source blocks.

    Parameters
    ----------
    name : str
        File name.
    content : bytes
        The whole file; a ``.gz`` name means that it is to be packed.
    truths : tuple of FileTruth
        One a source block.
    blocks : tuple of str
        ``[[source]]`` blocks that read it, as TOML.
    """

    name: str
    content: bytes
    truths: tuple[FileTruth, ...]
    blocks: tuple[str, ...]
