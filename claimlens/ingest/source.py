"""What the workspace says about a source, and the chunks a reader gives back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from claimlens.settings.limits import LimitSettings

__all__ = ["Chunk", "SourceBlock"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceBlock:
    """One ``[[source]]`` block: how a family of files is to be read.

    Everything but ``name`` is optional; what is missing is detected from the
    file itself.

    Parameters
    ----------
    name : str
        The workspace's own name for the source.
    files : str, optional
        Pattern on the file name.
    kind : str, optional
        Canonical table, a key of ``claimlens.tables.TABLES``.
    encoding, delimiter : str, optional
        Text files only.
    header_row : int, optional
        Line (text) or row (sheet) of the header, counted from 1.
    sheet : str, optional
        Workbooks only.
    records : str, optional
        JSON only: path to the list of records, dots for nesting.
    date_format : str, optional
        Words such as ``dd.mm.yyyy``; see ``claimlens.ingest.dates``.
    decimal : str, optional
        ``","`` or ``"."``.
    currency : str, optional
        Code for a file without a currency column.
    columns : mapping of str to str
        Header to canonical field.
    values : mapping of str to mapping
        Canonical field to its map from words of the file to canonical words.
    limits : LimitSettings
        What a file may be at most; those of the workspace.
    """

    name: str
    files: str | None = None
    kind: str | None = None
    encoding: str | None = None
    delimiter: str | None = None
    header_row: int | None = None
    sheet: str | None = None
    records: str | None = None
    date_format: str | None = None
    decimal: str | None = None
    currency: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    limits: LimitSettings = field(default_factory=LimitSettings)


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows of a file, as columns of text.

    Parameters
    ----------
    rows : list of int
        Where each row starts: line of a text file, row of a sheet, element of
        a JSON array; counted from 1.
    values : dict of str to list
        Header to its values, stripped; ``None`` where nothing stands.
    """

    rows: list[int]
    values: dict[str, list[str | None]]
