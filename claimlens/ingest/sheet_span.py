"""How many rows and columns the filled part of a sheet spans, read in pieces."""

from __future__ import annotations

import re
from typing import Protocol

__all__ = ["OdsSpan", "Span", "TextSizes", "XlsbSpan", "XmlSpan"]

_LONGEST_TAG = 1 << 16


class Span(Protocol):
    """What measures one sheet."""

    n_shared: int
    merged: int

    def add(self, block: bytes) -> None:
        """Take the next bytes of the sheet."""

    @property
    def size(self) -> tuple[int, int]:
        """Return rows and columns so far."""


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number


class XmlSpan:
    """The span of a sheet of an .xlsx file (ECMA-376 part 1, 18.3).

    A cell states its place, or follows the one before it.
    """

    # cells that hold something: an empty one closes itself
    _PLACE = re.compile(
        rb"\sr\s*=\s*[\"']\$?([A-Za-z]{1,7})\$?(\d{1,10})[\"'][^>]*[^/>]>"
    )
    _ROW = re.compile(rb"<(?:[\w.-]+:)?row(?=[\s/>])")
    _ROW_NUMBER = re.compile(rb"<(?:[\w.-]+:)?row\s(?:[^>]*\s)?r\s*=\s*[\"'](\d{1,10})")
    _CELL = re.compile(rb"<(?:[\w.-]+:)?c(?=[\s/>])")
    _MERGED = re.compile(
        rb"mergeCell\s[^>]*?ref\s*=\s*[\"']([A-Za-z]{1,3})(\d{1,7}):"
        rb"([A-Za-z]{1,3})(\d{1,7})"
    )
    _PLACED = re.compile(rb"<(?:[\w.-]+:)?c\s[^>]*?\br\s*=")
    _SHARED = re.compile(rb"\st\s*=\s*[\"']s[\"']")

    def __init__(self) -> None:
        self.n_shared = 0
        self.merged = 0
        self._rest = b""
        self._rows = 0
        self._columns = 0
        self._tags = 0
        self._run = 0

    def add(self, block: bytes) -> None:
        """Take the next bytes of the sheet."""
        text = self._rest + block
        cut = text.rfind(b"<")
        cut = cut if cut > len(text) - _LONGEST_TAG else len(text)
        text, self._rest = text[:cut], text[max(cut, 0) :]
        self.n_shared += len(self._SHARED.findall(text))
        for first, top, last, bottom in self._MERGED.findall(text):
            columns = _column_number(last) - _column_number(first) + 1
            self.merged += abs(columns) * abs(int(bottom) - int(top) + 1)
        places = self._PLACE.findall(text)
        if places:
            numbers = [_column_number(letters) for letters in {p[0] for p in places}]
            self._columns = max(self._columns, *numbers)
            self._rows = max(self._rows, *(int(row) for _, row in places))
        if len(self._CELL.findall(text)) > len(self._PLACED.findall(text)):
            # cells without a place stand where their row says
            found = self._ROW_NUMBER.findall(text)
            self._rows = max(self._rows, *(int(row) for row in found), 0)
        first, *others = self._ROW.split(text)
        self._run += len(self._CELL.findall(first))
        self._columns = max(self._columns, self._run)
        for piece in others:
            self._tags += 1
            self._run = len(self._CELL.findall(piece))
            self._columns = max(self._columns, self._run)

    @property
    def size(self) -> tuple[int, int]:
        """Return rows and columns so far."""
        return max(self._rows, self._tags), self._columns


class XlsbSpan:
    """The span of a sheet of an .xlsb file ([MS-XLSB], 2.1.4: type, size, data)."""

    _MOST_CELL = 11
    _LONGEST = 1 << 20

    def __init__(self) -> None:
        self.n_shared = 0
        self.merged = 0
        self._rest = b""
        self._row = 0
        self._rows = 0
        self._columns = 0

    def add(self, block: bytes) -> None:
        """Take the next bytes of the sheet."""
        data = self._rest + block
        at = 0
        while True:
            head = self._head(data, at)
            if head is None:
                break
            kind, length, begin = head
            if length > self._LONGEST:
                raise ValueError("a record longer than any of a sheet")
            if begin + length > len(data):
                break
            if length >= 4:
                self._take(kind, int.from_bytes(data[begin : begin + 4], "little"))
            at = begin + length
        self._rest = data[at:]

    def _take(self, kind: int, number: int) -> None:
        if kind == 0:
            self._row = number + 1
        elif 2 <= kind <= self._MOST_CELL:
            self._rows = max(self._rows, self._row)
            self._columns = max(self._columns, number + 1)
            self.n_shared += kind == 7

    @staticmethod
    def _head(data: bytes, at: int) -> tuple[int, int, int] | None:
        """Return type, length and start of the record, None where it is cut."""
        if at + 3 > len(data):
            return None
        kind = data[at]
        at += 1
        if kind & 0x80:
            kind = (kind & 0x7F) | (data[at] & 0x7F) << 7
            at += 1
        length = 0
        for shift in range(0, 28, 7):
            if at >= len(data):
                return None
            length |= (data[at] & 0x7F) << shift
            at += 1
            if not data[at - 1] & 0x80:
                break
        return kind, length, at

    @property
    def size(self) -> tuple[int, int]:
        """Return rows and columns so far."""
        return self._rows, self._columns


class OdsSpan:
    """The largest span of the sheets of an .ods file (OASIS ODF 1.2 part 1, 9.1).

    Cells and rows may stand for many: what counts is where the last filled one is.
    """

    _TAG = re.compile(
        rb"<(/?)table:(table|table-row|table-cell|covered-table-cell)(?=[\s/>])([^>]*)>"
    )
    _COLUMNS = re.compile(rb"number-columns-repeated\s*=\s*[\"'](\d{1,12})")
    _ROWS = re.compile(rb"number-rows-repeated\s*=\s*[\"'](\d{1,12})")

    def __init__(self) -> None:
        self.n_shared = 0
        self.merged = 0
        self._rest = b""
        self._largest = (0, 0)
        self._start()

    def _start(self) -> None:
        self._row = self._column = self._rows = self._columns = 0
        self._repeat = 1
        self._filled = 0

    def add(self, block: bytes) -> None:
        """Take the next bytes of the sheet."""
        text = self._rest + block
        cut = text.rfind(b"<")
        cut = cut if cut > len(text) - _LONGEST_TAG else len(text)
        text, self._rest = text[:cut], text[cut:]
        for closing, name, attributes in self._TAG.findall(text):
            if name == b"table":
                self._start()
            elif name == b"table-row":
                self._end_row() if closing else self._begin_row(attributes)
            elif not closing:
                self._cell(attributes)
        self._measure()

    def _begin_row(self, attributes: bytes) -> None:
        found = self._ROWS.search(attributes)
        self._repeat = int(found.group(1)) if found else 1
        self._column = self._filled = 0
        if attributes.endswith(b"/"):
            self._end_row()

    def _end_row(self) -> None:
        self._row += self._repeat
        if self._filled:
            self._rows = self._row
            self._columns = max(self._columns, self._filled)
        self._filled = 0
        self._measure()

    def _cell(self, attributes: bytes) -> None:
        found = self._COLUMNS.search(attributes)
        self._column += int(found.group(1)) if found else 1
        if not attributes.endswith(b"/") or b"value" in attributes:
            self._filled = self._column

    def _measure(self) -> None:
        rows = max(self._rows, self._row + self._repeat if self._filled else 0)
        columns = max(self._columns, self._filled)
        if rows * columns > self._largest[0] * self._largest[1]:
            self._largest = rows, columns

    @property
    def size(self) -> tuple[int, int]:
        """Return rows and columns so far."""
        return self._largest


class TextSizes:
    """The longest of the texts that cells share."""

    _TEXT = re.compile(rb"<(?:[\w.-]+:)?si(?=[\s/>])")

    def __init__(self) -> None:
        self._longest = 0
        self._run = 0

    def add(self, block: bytes) -> None:
        """Take the next bytes of the list."""
        first, *others = self._TEXT.split(block)
        self._run += len(first)
        self._longest = max(self._longest, self._run)
        for piece in others:
            self._run = len(piece)
            self._longest = max(self._longest, self._run)

    def longest(self) -> int:
        """Return its length in bytes, markup included."""
        return self._longest
