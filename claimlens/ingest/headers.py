"""Know canonical fields by the header words of six languages."""

from __future__ import annotations

from collections.abc import Sequence

from claimlens.ingest.skips import fold
from claimlens.ingest.source import SourceBlock
from claimlens.tables import TABLES, FieldType, kind_from_headers

__all__ = ["is_known_header", "row_roles"]

_CANONICAL = frozenset(
    fold(name) for table in TABLES.values() for name in table.field_names
)


def is_known_header(text: str) -> bool:
    """Tell whether a text is a header word of some canonical field."""
    return fold(text) in _CANONICAL


def row_roles(
    headers: Sequence[str], source: SourceBlock
) -> tuple[int, tuple[int, ...]]:
    """Return the positions of the key and of the required fields.

    Parameters
    ----------
    headers : sequence of str
        By position, empty where a column has no name.
    source : SourceBlock
        Its mapping wins over header words.

    Returns
    -------
    key : int
        The first column that is part of the kind's key; 0 if none is known.
    required : tuple of int
        Required fields that are no plain numbers.
    """
    fields = [
        source.columns.get(header, fold(header).replace(" ", "_")) for header in headers
    ]
    kind = source.kind or kind_from_headers(tuple(fields))
    if kind is None or kind not in TABLES:
        return 0, (0,)
    table = TABLES[kind]
    required = tuple(
        fields.index(field.name)
        for field in table.fields
        if field.required
        and field.type not in ("integer", "number", "money")
        and field.name in fields
    )
    keys = [fields.index(name) for name in table.key if name in fields]
    return (keys or [0])[0], required


def column_types(
    headers: Sequence[str], source: SourceBlock
) -> tuple[FieldType | None, ...]:
    """Return the canonical type of each column, where its field is known.

    Parameters
    ----------
    headers : sequence of str
        By position.
    source : SourceBlock
        Its mapping wins over canonical names.

    Returns
    -------
    tuple of str or None
        Field types by position.
    """
    kinds = [TABLES[source.kind]] if source.kind in TABLES else list(TABLES.values())
    known = {field.name: field.type for table in kinds for field in table.fields}
    plain = (" ".join(header.split()) for header in headers)
    return tuple(
        known.get(source.columns.get(header, fold(header).replace(" ", "_")))
        for header in plain
    )
