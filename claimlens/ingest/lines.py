"""Cut physical lines into records, so that a stray quote harms one row only."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from itertools import islice

__all__ = ["Record", "RecordCutter", "cut_line"]

# (first line, number of lines, cells or None where unreadable, raw first line)
Record = tuple[int, int, list[str] | None, str]

_BLOCK = 1_000
_BLOCK_CHARACTERS = 16_000_000
_MAX_CONTINUATION = 500
_MAX_CONTINUATION_UNSURE = 12  # while the width is not known

# how long a cell may be is judged where lines are read
csv.field_size_limit(1 << 30)


def _strict(lines: list[str], delimiter: str) -> list[str] | None:
    """Read lines as exactly one record by the strict rules, else None."""
    try:
        rows = list(
            csv.reader(lines, delimiter=delimiter, strict=True, skipinitialspace=True)
        )
    except csv.Error:
        return None
    return rows[0] if len(rows) == 1 else None


@cache
def _lenient_pattern(delimiter: str) -> re.Pattern[str]:
    """Return a pattern of one cell whose quotes close only before a delimiter."""
    mark = re.escape(delimiter)
    return re.compile(
        rf'(?:^|{mark})[ ]*(?:"((?:[^"]|"(?![ ]*(?:{mark}|$)))*)"[ ]*(?={mark}|$)'
        rf"|([^{mark}]*))"
    )


def _lenient(text: str, delimiter: str) -> list[str]:
    """Read one line with quotes inside cells taken as letters."""
    return [
        quoted.replace('""', '"') if quoted else plain
        for quoted, plain in _lenient_pattern(delimiter).findall(text)
    ]


def cut_line(line: str, delimiter: str) -> list[str]:
    """Cut one physical line into cells as well as it goes.

    Parameters
    ----------
    line : str
        With or without its line end.
    delimiter : str
        One character.

    Returns
    -------
    list of str
        The cells, by the strict rules if they hold, else with quotes taken
        as letters.
    """
    text = line.rstrip("\r\n")
    if '"' not in text:
        return text.split(delimiter)
    return _strict([text], delimiter) or _lenient(text, delimiter)


class RecordCutter:
    """Iterates over the records of an open text stream.

    Parameters
    ----------
    stream : iterable of str
        Physical lines, line ends kept.
    delimiter : str
        One character.
    width : int or None
        Cells of a full record; None while it is not known.
    plausible : callable, optional
        Tells whether cells of full width look like a record of this table.
        It keeps free text with delimiters, inside quotes, from being taken
        for the next record.
    start : int, default 0
        Lines that precede the stream.
    least : int, optional
        Cells that no record lacks, where the last columns are nameless; by
        default ``width``.
    longest : int, default 16,000,000
        Characters of a record; one that would be longer is read as broken.
    """

    def __init__(
        self,
        stream: Iterable[str],
        *,
        delimiter: str,
        width: int | None,
        plausible: Callable[[list[str]], bool] | None = None,
        start: int = 0,
        least: int | None = None,
        longest: int = 16_000_000,
    ) -> None:
        self._stream = iter(stream)
        self._delimiter = delimiter
        self._width = width
        self._plausible = plausible
        self._line = start
        self._least = least if least is not None else width or 0
        self._longest = longest
        self._buffer: list[str] = []
        self._at = 0

    def _next_line(self) -> str | None:
        if self._at == len(self._buffer):
            following = next(self._stream, None)
            if following is None:
                return None
            self._buffer.append(following)
        self._at += 1
        return self._buffer[self._at - 1]

    def __iter__(self) -> Iterator[Record]:
        """Yield records with their physical place."""
        while True:
            if self._at == len(self._buffer):
                self._buffer = self._next_block()
                self._at = 0
                if not self._buffer:
                    return
            yield from self._plain_run()
            if self._at < len(self._buffer):
                yield self._single()

    def _next_block(self) -> list[str]:
        """Return the next lines, not many where they are long."""
        block: list[str] = []
        size = 0
        for line in islice(self._stream, _BLOCK):
            block.append(line)
            size += len(line)
            if size > _BLOCK_CHARACTERS:
                break
        return block

    def _plain_run(self) -> Iterator[Record]:
        """Yield records up to the first that is not one good line.

        The reader runs over the buffer at full speed; a record that takes
        more than one line, breaks the rules or holds NUL bytes ends the run
        and is left to `_single`.
        """
        reader = csv.reader(
            islice(self._buffer, self._at, None),
            delimiter=self._delimiter,
            strict=True,
            skipinitialspace=True,
        )
        done = 0
        buffer, start, line = self._buffer, self._at, self._line
        try:
            for cells in reader:
                if reader.line_num != done + 1 or "\0" in buffer[start + done]:
                    return
                done += 1
                self._at, self._line = start + done, line + done
                yield line + done, 1, cells, buffer[start + done - 1]
        except csv.Error:
            return

    def _single(self) -> Record:
        """Return the record that begins at the current line."""
        line = self._next_line() or ""
        text = line.rstrip("\r\n")
        number = self._line + 1
        n_lines, cells = self._quoted(line, text)
        if cells is not None and any("\0" in cell for cell in cells):
            text, cells = "\0".join(cells), None
        self._line += n_lines
        return number, n_lines, cells, text

    def _quoted(self, line: str, text: str) -> tuple[int, list[str] | None]:
        """Read a record that begins on a line with quotes."""
        cells = _strict([text], self._delimiter)
        if cells is not None:
            return 1, cells
        joined = self._joined(line)
        if joined is not None:
            return joined
        for attempt in (
            _lenient(text, self._delimiter),
            [cell.strip().strip('"') for cell in text.split(self._delimiter)],
        ):
            if self._width is None or len(attempt) == self._width:
                return 1, attempt
        return 1, None

    def _joined(self, line: str) -> tuple[int, list[str]] | None:
        """Read a record over several lines; give the lines back if it is none."""
        taken = [line]
        # the reader asks for lines until its quotes close, so each is read once
        reader = csv.reader(
            self._continued(taken),
            delimiter=self._delimiter,
            strict=True,
            skipinitialspace=True,
        )
        try:
            cells = next(reader, None)
        except csv.Error:
            cells = None
        # Sound quotes over lines none of which is a record: even with too
        # few cells it is one record, cut short, unless its first line
        # makes a full one with the quote taken as a letter.
        if cells is not None and (self._is_whole(cells) or not self._is_full(line)):
            return len(taken), cells
        self._at -= len(taken) - 1
        return None

    def _continued(self, taken: list[str]) -> Iterator[str]:
        """Yield a line and those below it, up to the next that is a record."""
        yield taken[0]
        size = len(taken[0])
        most = _MAX_CONTINUATION_UNSURE if self._width is None else _MAX_CONTINUATION
        while len(taken) <= most:
            following = self._next_line()
            if following is None:
                return
            taken.append(following)
            size += len(following)
            if size > self._longest or self._is_record(following):
                return
            yield following

    def _is_full(self, line: str) -> bool:
        """Tell whether a line has all cells, quotes taken as letters."""
        return len(line.rstrip("\r\n").split(self._delimiter)) == self._width

    def _is_whole(self, cells: list[str]) -> bool:
        """Tell whether a record has its cells; empty ones at the end may vary."""
        if self._width is None:
            return True
        return len(cells) >= self._least and not any(
            cell.strip() for cell in cells[self._width :]
        )

    def _is_record(self, line: str) -> bool:
        """Tell whether a continuation line is a full record by itself."""
        if self._width is None or line.count('"') % 2:
            return False
        text = line.rstrip("\r\n")
        cells = _strict([text], self._delimiter) if '"' in text else None
        if cells is None:
            cells = text.split(self._delimiter)
        if len(cells) != self._width:
            return False
        return self._plausible is None or self._plausible(cells)
