"""Tell rows from the lines around them: totals, repeated headers, notes."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = [
    "RowJudge",
    "fold",
    "is_rule",
    "is_total_label",
    "looks_numeric",
    "signature",
]

_WORDS = Path(__file__).parent / "data" / "row_words.toml"
_NUMERIC = re.compile(
    r"[^\w\d]*(?:[A-Za-z]{3}|[A-Z][a-z]?\.?)?[\s(+\-−]*\d[\d.,'’\s\u00a0\u202f]*"
    r"[)%\-−]?\s*(?:[A-Za-z]{3}|[^\w\s]{1,2})?\s*"
)
_RULE = re.compile(r"[-=_*#~.+|\s]{2,}")
_LEADING_WORD = re.compile(r"\W*([^\W\d_]+)")
_MANY_SIGNATURES = 40


def fold(text: str) -> str:
    """Return text without case, accents and punctuation, words one blank apart."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    kept = (
        character if character.isalnum() else " "
        for character in plain
        if not unicodedata.combining(character)
    )
    return " ".join("".join(kept).split())


@cache
def _words(group: str) -> frozenset[str]:
    """Return the folded words of one list of the word file."""
    with _WORDS.open("rb") as stream:
        return frozenset(fold(word) for word in tomllib.load(stream)[group])


def _begins_with(folded: str, words: frozenset[str]) -> str | None:
    """Return the longest of the words that the text begins with."""
    tokens = folded.split()
    for length in range(min(len(tokens), 3), 0, -1):
        start = " ".join(tokens[:length])
        if start in words:
            return start
    return None


def is_total_label(text: str) -> bool:
    """Tell whether a cell labels a total or a count in one of six languages.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    bool
        True for ``Total``, ``Summe:``, ``Sous-total mai``, ``Anzahl: 412``.
    """
    if len(text) > 60:
        return False
    folded = fold(text)
    if _begins_with(folded, _words("totals")):
        return True
    start = _begins_with(folded, _words("counts"))
    if start is None:
        return False
    rest = folded[len(start) :].strip()
    return not rest or text.rstrip().endswith(":") or rest[-1].isdigit()


def looks_numeric(text: str) -> bool:
    """Tell whether a cell is a number, an amount or a percentage."""
    return _NUMERIC.fullmatch(text) is not None


def is_rule(text: str) -> bool:
    """Tell whether a cell is a drawn line such as ``-----``."""
    return _RULE.fullmatch(text) is not None


def signature(text: str) -> str:
    """Return the shape of a text: runs of letters as A, of digits as 9."""
    shape = re.sub(r"[^\W\d_]+", "A", text)
    return re.sub(r"\d+", "9", shape)


@cache
def _label_leads() -> frozenset[str]:
    """Return the first words of all labels of totals, counts and notes."""
    return frozenset(
        phrase.split()[0]
        for group in ("totals", "counts", "notes")
        for phrase in _words(group)
    )


def _usual_shapes(cells: Sequence[str]) -> set[str]:
    """Return the shapes of a column; of label-like cells only frequent ones.

    An identifier may begin like a label, but then many do.
    """
    shapes: Counter[str] = Counter()
    labels: Counter[str] = Counter()
    for cell in cells:
        if not cell or is_rule(cell):
            continue
        count = labels if is_total_label(cell) else shapes
        count[signature(cell)] += 1
    frequent = {
        shape
        for shape, count in labels.items()
        if "9" in shape and count > 0.5 * len(cells)
    }
    return set(shapes) | frequent


def _shape_pattern(signatures: set[str]) -> re.Pattern[str] | None:
    """Return a pattern of texts with one of these shapes; None if too many."""
    if not signatures or len(signatures) > _MANY_SIGNATURES:
        return None
    shapes = "|".join(
        re.escape(shape).replace("A", r"[^\W\d_]+").replace("9", r"\d+")
        for shape in sorted(signatures)
    )
    return re.compile(shapes)


@dataclass(frozen=True, slots=True)
class RowJudge:
    """Decides which lines of one table are rows.

    Parameters
    ----------
    headers : tuple of str
        The header cells, by position, empty ones included.
    first : int
        Position of the first column with a name.
    key : int
        Position of the column that names a row.
    required : tuple of int
        Positions of required fields that are no numbers, the key included.
    signatures : frozenset of str
        Shapes seen in the first column.
    preamble : frozenset of tuple
        Title lines above the header; where pages repeat them they are skipped.
    usual : re.Pattern or None
        Matches the first and key cells of rows; None where they have too many
        shapes.
    coded : re.Pattern or None
        The same, for shapes with digits.
    openings : frozenset of str
        Values seen in the first column.
    """

    headers: tuple[str, ...]
    first: int
    key: int
    required: tuple[int, ...]
    signatures: frozenset[str]
    preamble: frozenset[tuple[str, ...]]
    usual: re.Pattern[str] | None
    coded: re.Pattern[str] | None
    openings: frozenset[str] = frozenset()

    @classmethod
    def learn(
        cls,
        headers: Sequence[str],
        *,
        key: int,
        required: Iterable[int],
        rows: Sequence[Sequence[str]],
        preamble: Iterable[Sequence[str]],
    ) -> RowJudge:
        """Learn the shapes of the first column from sample rows."""
        folded = tuple(fold(header) for header in headers)
        first = next((index for index, name in enumerate(folded) if name), 0)
        full = [
            row
            for row in rows
            if len(row) >= len(headers)
            and sum(1 for cell in row if cell.strip()) >= min(3, len(headers))
            and fold(row[key]) != folded[key]
        ]
        seen = _usual_shapes([row[first].strip() for row in full])
        keys = _usual_shapes([row[key].strip() for row in full])
        return cls(
            headers=folded,
            first=first,
            key=key,
            required=tuple(required) or (key,),
            signatures=frozenset(seen),
            preamble=frozenset(
                trimmed for row in preamble if (trimmed := _trimmed(row))
            ),
            usual=_shape_pattern(seen | keys),
            coded=_shape_pattern({shape for shape in seen | keys if "9" in shape}),
            openings=frozenset(fold(row[first]) for row in full),
        )

    def suspects(self, columns: Sequence[Sequence[str | None]]) -> list[int]:
        """Return the positions of rows worth a closer look, cheaply.

        Parameters
        ----------
        columns : sequence of sequence
            Columns of a batch of full-width rows, stripped, ``None`` if empty.

        Returns
        -------
        list of int
            Rows with an empty key, or whose first or key cell reads like a
            total, a header or a rule.
        """
        found: set[int] = set()
        known: dict[str, bool] = {}
        for position in {self.first, self.key}:
            header = self.headers[position]
            for index, cell in enumerate(columns[position]):
                if cell is None:
                    found.add(index)
                    continue
                odd = known.get(cell)
                if odd is None:
                    odd = known[cell] = self._is_odd(cell, header)
                if odd:
                    found.add(index)
        return sorted(found)

    def _is_odd(self, cell: str, header: str) -> bool:
        """Tell whether a first or key cell is unlike a row's."""
        if self._is_usual(cell):
            return False
        lead = _LEADING_WORD.match(cell)
        if lead is not None:
            word = lead.group(1).lower()
            if word in _label_leads() or not word.isascii():
                return True
            if word == header.partition(" ")[0] and fold(cell) == header:
                return True
        if self.usual is not None:
            return self.usual.fullmatch(cell) is None
        return is_rule(cell)

    def _is_usual(self, cell: str) -> bool:
        """Tell an identifier of this table, such as SUM-0012, from a label."""
        return self.coded is not None and self.coded.fullmatch(cell) is not None

    def _like_first_column(self, cell: str) -> bool:
        """Tell whether a cell, whole or cut, could stand in the first column."""
        if len(self.signatures) > _MANY_SIGNATURES or not self.signatures:
            return not _begins_with(fold(cell), _words("notes"))
        shape = signature(cell)
        return any(known.startswith(shape) for known in self.signatures)

    def _begins_like_row(self, cell: str) -> bool:
        """Tell the first cell of a torn row: an identifier, then other text."""
        found = self.coded.match(cell) if self.coded is not None else None
        if found is None or _begins_with(fold(cell), _words("notes")):
            return False
        # plain numbers begin notes as well: "3 claims were withdrawn"
        return any(map(str.isalpha, found.group()))

    def skips(self, cells: Sequence[str | None]) -> bool:
        """Tell whether a line is no row.

        Parameters
        ----------
        cells : sequence of str or None
            Its cells, of any number.

        Returns
        -------
        bool
            True for a blank line, rule, repeated header or title, total, note.
        """
        filled = {
            index: cell.strip()
            for index, cell in enumerate(cells)
            if cell and cell.strip()
        }
        if not filled or all(is_rule(cell) for cell in filled.values()):
            return True
        if self._is_header(filled) or _trimmed(cells) in self.preamble:
            return True
        return self._is_total(filled, len(cells)) or self._is_note(filled, len(cells))

    def _is_header(self, filled: dict[int, str]) -> bool:
        """Tell a repeated header: nearly all cells equal their header."""
        named = sum(1 for header in self.headers if header)
        same = sum(
            1
            for index, cell in filled.items()
            if index < len(self.headers) and fold(cell) == self.headers[index]
        )
        return same >= max(1, 0.8 * max(named, len(filled)))

    def _is_total(self, filled: dict[int, str], width: int) -> bool:
        """Tell a total: figures without what makes a row a row."""
        figures = {
            index
            for index, cell in filled.items()
            if looks_numeric(cell) or is_total_label(cell)
        }
        labelled = [
            index
            for index, cell in filled.items()
            if is_total_label(cell)
            and not (index in (self.first, self.key) and self._is_usual(cell))
        ]
        few = len(filled) <= max(2, len(self.headers) // 2)
        named = [
            index
            for index in self.required
            if index in filled and index not in labelled
        ]
        if labelled and min(filled) == labelled[0]:
            return few or not named
        if len(filled) == 1 and self._bare_count(filled):
            return True
        # without a label, figures on a short line are a row cut short
        if named or (not labelled and width < len(self.headers)):
            return False
        return len(figures) == len(filled) and (few or bool(labelled))

    def _bare_count(self, filled: dict[int, str]) -> bool:
        """Tell a lone number in a first column that holds no plain numbers."""
        (index, cell), *_ = filled.items()
        return (
            index == self.first
            and looks_numeric(cell)
            and bool(self.signatures)
            and not self._like_first_column(cell)
        )

    def _is_closing_word(self, cell: str, n_filled: int) -> bool:
        """Tell a lone ``Fine elenco`` below a first column of words."""
        return (
            n_filled == 1
            and not any(map(str.isdigit, cell))
            and bool(_begins_with(fold(cell), _words("notes")))
            and fold(cell) not in self.openings
        )

    def _is_note(self, filled: dict[int, str], width: int) -> bool:
        """Tell a title or footer: prose in the first cell and little else."""
        first = min(filled)
        cell = filled[first]
        leads = first <= self.first
        short = len(filled) == 1 or (leads and width < len(self.headers))
        if not short or (len(filled) > 3 and not cell.startswith(("*", "#", "--"))):
            return False
        if leads and self._is_closing_word(cell, len(filled)):
            return True
        if leads and self.signatures and self._like_first_column(cell):
            return False
        if leads and len(filled) > 1 and self._begins_like_row(cell):
            return False
        if not leads:
            return bool(_begins_with(fold(cell), _words("notes"))) and first not in (
                self.required
            )
        prose = " " in cell or ":" in cell or cell.isalpha() or cell[0] in "*#-("
        return prose or bool(_begins_with(fold(cell), _words("notes")))


def _trimmed(cells: Sequence[str | None]) -> tuple[str, ...]:
    """Return the cells without blanks and without empty cells at the end."""
    texts = [(cell or "").strip() for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    return tuple(texts)
