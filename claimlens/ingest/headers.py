"""What readers need to know of headers: known words, key, field types."""

from __future__ import annotations

from collections.abc import Sequence

from claimlens.ingest.header_words import is_header_word
from claimlens.ingest.proposal import propose_kind
from claimlens.ingest.skips import fold
from claimlens.ingest.source import SourceBlock
from claimlens.tables import TABLES, FieldType, kind_from_headers

__all__ = ["column_types", "is_known_header", "row_roles"]


def is_known_header(text: str) -> bool:
    """Tell whether a text is a header word of some canonical field."""
    return is_header_word(" ".join(text.split()))


def _fields(
    headers: Sequence[str], source: SourceBlock
) -> tuple[str | None, list[str]]:
    """Return the kind and the field of each column, empty where unknown."""
    plain = [" ".join(header.split()) for header in headers]
    canonical = [
        source.columns.get(header, fold(header).replace(" ", "_")) for header in plain
    ]
    kind = source.kind or kind_from_headers(tuple(canonical))
    if source.columns or (kind is not None and source.kind is None):
        return kind, canonical
    named = [header for header in plain if header]
    proposal = propose_kind(named, None, kinds=[kind] if kind in TABLES else None)
    found = {one.header: one.field for one in proposal.assignments}
    return proposal.kind, [found.get(header, "") for header in plain]


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
    kind, fields = _fields(headers, source)
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
        Its mapping wins over header words.

    Returns
    -------
    tuple of str or None
        Field types by position.
    """
    kind, fields = _fields(headers, source)
    known = {
        field.name: field.type
        for table in ([TABLES[kind]] if kind in TABLES else TABLES.values())
        for field in table.fields
    }
    return tuple(known.get(name) for name in fields)
