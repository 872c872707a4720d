"""Short lists that come with a question, such as planned sales or stock."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from claimlens.errors import InputError
from claimlens.ingest.numbers import parse
from claimlens.ingest.records import open_records
from claimlens.ingest.source import SourceBlock

__all__ = ["ListRow", "read_short_list"]

_MONTHS = (
    re.compile(r"(?P<year>\d{4})-(?P<month>\d{1,2})(-\d{1,2}([ T].*)?)?"),
    re.compile(r"(?P<month>\d{1,2})[./](?P<year>\d{4})"),
)
# more cannot be meant, and an exponent is no way to write a count
_MOST = Decimal(10_000_000)


@dataclass(frozen=True, slots=True)
class ListRow:
    """One row of a list, as text; what it says is asked field by field.

    Parameters
    ----------
    file : str
        Where it stands.
    number : int
        Its line or row, counted from 1.
    values : dict of str to (str or None)
        Field to what stands there.
    """

    file: str
    number: int
    values: dict[str, str | None]

    def fault(self, field: str, why: str, remedy: str) -> InputError:
        """Return the error that names this row and one of its columns."""
        return InputError(
            f"{self.file}, row {self.number}, column {field}: {why}.", remedy=remedy
        )

    def text(self, field: str) -> str | None:
        """Return what stands in a field; None for nothing."""
        return self.values.get(field)

    def needed(self, field: str) -> str:
        """Return what stands in a field that must not be empty."""
        found = self.text(field)
        if found is None:
            raise self.fault(field, "nothing stands there", f"give the {field}")
        return found

    def number_of(self, field: str, *, most: Decimal = _MOST) -> Decimal | None:
        """Return a number that is not negative; None for nothing."""
        found = self.text(field)
        if found is None:
            return None
        value = parse([found], None)[found]
        if value is None:
            raise self.fault(field, f"{found[:40]!r} is no number", "write it as 1200")
        if value < 0:
            raise self.fault(
                field, f"{found[:40]} is negative", "write 0 or more, or leave it empty"
            )
        if value > most:
            raise self.fault(field, f"{found[:40]} is too large", "check the number")
        return value

    def whole(self, field: str) -> int | None:
        """Return a whole number that is not negative; None for nothing."""
        value = self.number_of(field)
        if value is None:
            return None
        if value != value.to_integral_value():
            raise self.fault(
                field, f"{self.text(field)} is not whole", "write a whole number"
            )
        return int(value)

    def month(self, field: str) -> int:
        """Return a month as its number: 12 times the year, and 0 for January."""
        found = self.needed(field)
        for pattern in _MONTHS:
            match = pattern.fullmatch(found)
            if match and 1 <= int(match["month"]) <= 12:
                return int(match["year"]) * 12 + int(match["month"]) - 1
        raise self.fault(field, f"{found[:40]!r} is no month", "write it as 2026-05")


def read_short_list(
    path: Path, *, required: Sequence[str], optional: Sequence[str] = ()
) -> list[ListRow]:
    """Read a list whose headers are the names of its fields.

    Parameters
    ----------
    path : Path
        Text or workbook; capitals, blanks and underscores in headers do not matter.
    required, optional : sequence of str
        Fields; other columns are not looked at.

    Returns
    -------
    list of ListRow
        In the order of the file.

    Raises
    ------
    InputError
        If a required column is missing, the list is empty, or a line is no row.
    SourceError
        If the file cannot be read as a table.
    """
    records = open_records(path, source=SourceBlock(name=path.stem))
    named = {_plain(header): header for header in records.headers}
    columns = {field: named.get(_plain(field)) for field in (*required, *optional)}
    missing = [field for field in required if columns[field] is None]
    if missing:
        raise InputError(
            f"{path.name} has no column {', '.join(missing)}.",
            remedy=f"it needs {', '.join(required)}"
            + (f", and may have {', '.join(optional)}" if optional else ""),
        )
    rows = [
        ListRow(
            path.name,
            number,
            {
                field: chunk.values[header][place]
                for field, header in columns.items()
                if header is not None
            },
        )
        for chunk in records.chunks()
        for place, number in enumerate(chunk.rows)
    ]
    if records.rejected:
        first = records.rejected[0]
        raise InputError(
            f"{path.name}, row {first.row}: {first.reason}.",
            remedy="mend the line, or take it out",
        )
    if not rows:
        raise InputError(
            f"{path.name} has no rows.", remedy="list at least one, or leave it out"
        )
    return rows


def _plain(header: str) -> str:
    return re.sub(r"[\s_]+", "_", header.strip().lower())
