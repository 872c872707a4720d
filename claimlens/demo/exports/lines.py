"""Text files line by line, with a count of what each line is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import pandas as pd

__all__ = ["Lines", "date_words", "grouped", "number_text", "source_block"]


class Lines:
    """A delimited text file in the making.

    Parameters
    ----------
    delimiter : str
        One character.
    line_end : str, default a line feed
        Ends every line.
    """

    def __init__(self, delimiter: str, line_end: str = "\n") -> None:
        self.delimiter = delimiter
        self.line_end = line_end
        self.line = 1
        self.skipped = 0
        self.rows = 0
        self._text: list[str] = []

    def _add(self, text: str) -> int:
        start = self.line
        self._text.append(text + self.line_end)
        # readers take a lone line feed inside quotes for a line of its own
        self.line += 1 + text.count("\n")
        return start

    def skip(self, text: str) -> None:
        """Add lines that are no rows (titles, blank lines, totals)."""
        self.skipped += 1 + text.count("\n")
        self._add(text)

    def header(self, names: Sequence[str]) -> int:
        """Add the header; return its line."""
        return self._add(self.join(names))

    def row(self, values: Sequence[str]) -> int:
        """Add a record; return its first line."""
        self.rows += 1
        return self._add(self.join(values))

    def raw_row(self, text: str) -> int:
        """Add a record that is damaged as it stands; return its line."""
        self.rows += 1
        return self._add(text)

    def join(self, values: Sequence[str]) -> str:
        """Return values as one record, quoted where they must be."""
        return self.delimiter.join(self._quoted(value) for value in values)

    def _quoted(self, value: str) -> str:
        special = (self.delimiter, '"', "\n", "\r")
        if not any(sign in value for sign in special):
            return value
        return '"' + value.replace('"', '""') + '"'

    def encode(self, encoding: str) -> bytes:
        """Return the file's bytes.

        ``utf-16`` is little-endian with its mark, on every machine.
        """
        text = "".join(self._text)
        if encoding == "utf-16":
            return b"\xff\xfe" + text.encode("utf-16-le")
        return text.encode(encoding)


def grouped(cents: int, thousands: str, decimal: str) -> str:
    """Return an amount with separators, ``-1.234,50``."""
    whole, part = divmod(abs(cents), 100)
    sign = "-" if cents < 0 else ""
    return f"{sign}{whole:,}".replace(",", thousands) + f"{decimal}{part:02d}"


def number_text(value: float | str | None, money: Callable[[int], str]) -> str:
    """Return an amount in a file's own writing; empty where unknown."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return money(round(float(value) * 100))


def date_words(column: pd.Series, form: str) -> list[str]:
    """Return dates in a ``strftime`` form; empty where unknown.

    ``%-d`` and ``%-m`` (no leading zero) work on every system.
    """
    words: dict[pd.Timestamp, str] = {}
    for stamp in pd.to_datetime(column.dropna()).unique():
        plain = form.replace("%-d", str(stamp.day)).replace("%-m", str(stamp.month))
        words[stamp] = stamp.strftime(plain)
    return [words.get(stamp, "") for stamp in pd.to_datetime(column)]


def source_block(
    *,
    name: str,
    files: str,
    kind: str,
    options: dict[str, str | int],
    columns: dict[str, str],
    values: dict[str, dict[str, str]] | None = None,
) -> str:
    """Return a ``[[source]]`` block as TOML.

    Parameters
    ----------
    name, files, kind : str
        Name of the source, file pattern, canonical kind.
    options : dict
        Encoding, delimiter, header_row, date_format, decimal, ...
    columns : dict of str to str
        Header to canonical field.
    values : dict of str to dict
        Field to its map of words.
    """
    lines = ["[[source]]"]
    for key, value in {"name": name, "files": files, "kind": kind, **options}.items():
        shown = value if isinstance(value, int) else _text(value)
        lines.append(f"{key} = {shown}")
    lines += ["", "[source.columns]"]
    lines += [f"{_text(header)} = {_text(field)}" for header, field in columns.items()]
    for field, words in (values or {}).items():
        lines += ["", f"[source.values.{field}]"]
        lines += [f"{_text(theirs)} = {_text(ours)}" for theirs, ours in words.items()]
    return "\n".join(lines) + "\n"


def _text(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
    return f'"{escaped}"'
