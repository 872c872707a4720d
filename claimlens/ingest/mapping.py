"""Which source a file belongs to, and which of its columns is which field."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, fields
from fnmatch import fnmatchcase
from pathlib import Path

import pandas as pd

from claimlens.errors import MappingError
from claimlens.ingest.source import Chunk, SourceBlock
from claimlens.settings import LimitSettings, Settings, SourceSettings
from claimlens.tables import TABLES, Table, kind_from_headers

__all__ = ["ColumnMap", "block_of", "map_columns", "raw_frame", "sources_for"]


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """Where each canonical field of a kind comes from in one file.

    Parameters
    ----------
    table : Table
        The kind.
    header_of : dict of str to str
        Canonical field to the header that fills it.
    extra : tuple of str
        Headers that fill no field; kept as JSON.
    absent : tuple of (str, str)
        Headers that the settings name and the file has not, with their field.
    """

    table: Table
    header_of: dict[str, str]
    extra: tuple[str, ...]
    absent: tuple[tuple[str, str], ...] = ()

    @property
    def present(self) -> list[str]:
        """Return the fields that the file has, in canonical order."""
        return [name for name in self.table.field_names if name in self.header_of]


def sources_for(path: Path, settings: Settings) -> tuple[SourceSettings, ...]:
    """Return the sources whose file pattern fits.

    Parameters
    ----------
    path : Path
        The file; a ``.gz`` ending may be left out of the pattern.
    settings : Settings
        The workspace's.

    Returns
    -------
    tuple of SourceSettings
        Several where one file feeds several kinds; empty where none fits.
    """
    names = {path.name, path.name.removesuffix(".gz")}
    return tuple(
        source
        for source in settings.source
        if any(fnmatchcase(name, source.files) for name in names)
    )


def block_of(
    source: SourceSettings | None, path: Path, limits: LimitSettings
) -> SourceBlock:
    """Return what the readers need to know of a source, and of a file without one."""
    if source is None:
        return SourceBlock(name=path.stem, limits=limits)
    own = [field.name for field in fields(SourceBlock) if field.name != "limits"]
    return SourceBlock(**{name: getattr(source, name) for name in own}, limits=limits)


def map_columns(
    headers: tuple[str, ...], source: SourceSettings | None, path: Path
) -> ColumnMap:
    """Decide which header fills which field.

    Parameters
    ----------
    headers : tuple of str
        As read from the file.
    source : SourceSettings or None
        None for a file that is to be known by its canonical headers.
    path : Path
        For messages.

    Returns
    -------
    ColumnMap
        Every required field is filled.

    Raises
    ------
    MappingError
        If the kind is not known, or a required field is filled by no column.
    """
    if source is None:
        kind = kind_from_headers(headers)
        if kind is None:
            raise MappingError(
                "These columns are not the canonical fields of one table: "
                f"{', '.join(headers[:12])}{', ...' if len(headers) > 12 else ''}.",
                source=str(path),
                remedy="let claimlens propose a source and put it into "
                f"claimlens.toml: claimlens describe {path.name} --source-block",
            )
        named: dict[str, str] = {}
    else:
        kind, named = source.kind, {_plain(k): v for k, v in source.columns.items()}
    table = TABLES[kind]
    header_of: dict[str, str] = {}
    for header in headers:
        field = named.get(_plain(header))
        if field is None and _plain(header) in table.field_names:
            field = _plain(header)
            if field in named.values():
                field = None
        if field is not None and field not in header_of:
            header_of[field] = header
    _check_required(table, header_of, source, path)
    used = set(header_of.values())
    here = {_plain(header) for header in headers}
    asked = source.columns.items() if source is not None else ()
    return ColumnMap(
        table,
        header_of,
        tuple(header for header in headers if header not in used),
        tuple((name, field) for name, field in asked if _plain(name) not in here),
    )


def _check_required(
    table: Table,
    header_of: dict[str, str],
    source: SourceSettings | None,
    path: Path,
) -> None:
    missing = [name for name in table.required if name not in header_of]
    if not missing:
        return
    wanted = ""
    if source is not None:
        asked = [k for k, v in source.columns.items() if v in missing]
        if asked:
            wanted = f" (the settings expect it in {', '.join(map(repr, asked))})"
    raise MappingError(
        f"No column of this {table.name} file holds {' and '.join(missing)}{wanted}.",
        source=str(path),
        column=missing[0],
        remedy="name the column under [source.columns] in claimlens.toml; "
        f"claimlens describe {path.name} shows what the file has",
    )


def _plain(header: str) -> str:
    """Return a header in lower case with single blanks."""
    return re.sub(r"\s+", " ", header).strip().casefold()


def raw_frame(
    chunk: Chunk, columns: ColumnMap, source: SourceSettings | None
) -> pd.DataFrame:
    """Return a chunk under its canonical names, all text.

    Parameters
    ----------
    chunk : Chunk
        Rows as read.
    columns : ColumnMap
        Of the same file.
    source : SourceSettings or None
        Its value maps are applied.

    Returns
    -------
    pandas.DataFrame
        Columns ``source_row``, the fields present, and ``extra`` (JSON text).
    """
    data: dict[str, object] = {"source_row": chunk.rows}
    for field, header in columns.header_of.items():
        values = chunk.values[header]
        words = source.values.get(field) if source is not None else None
        if words:
            known = {_plain(word): meaning for word, meaning in words.items()}
            values = [
                known.get(_plain(value), value) if value is not None else None
                for value in values
            ]
        data[field] = pd.array(values, dtype="str")
    if columns.extra:
        data["extra"] = pd.array(
            _extra(chunk, columns.extra, len(chunk.rows)), dtype="str"
        )
    return pd.DataFrame(data)


def _extra(chunk: Chunk, headers: tuple[str, ...], n: int) -> list[str | None]:
    """Return the columns that no field takes as one JSON text per row."""
    texts: list[str | None] = []
    lists = [chunk.values[header] for header in headers]
    for i in range(n):
        kept = {
            header: values[i]
            for header, values in zip(headers, lists, strict=True)
            if values[i] is not None
        }
        texts.append(json.dumps(kept, ensure_ascii=False) if kept else None)
    return texts
