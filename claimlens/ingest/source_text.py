"""Write a proposed source block as TOML with its reasons."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from claimlens.ingest.decisions import (
    CurrencyChoice,
    DateChoice,
    DecimalChoice,
    WordMap,
)
from claimlens.ingest.dialect import delimiter_name
from claimlens.ingest.feeds import Layout
from claimlens.ingest.proposal import KindProposal
from claimlens.ingest.skips import fold

__all__ = ["block_text", "file_pattern", "quoted"]

_SURE = 0.75


def quoted(text: str) -> str:
    """Return a TOML basic string."""
    # JSON strings are TOML basic strings but for the delete character
    plain = text.encode("utf-8", "replace").decode()  # no half surrogates
    return json.dumps(plain, ensure_ascii=False).replace("\x7f", "\\u007f")


def file_pattern(path: Path) -> str:
    """Return a pattern that fits this file's name only."""
    return re.sub(r"([\[*?])", r"[\1]", path.name)


def _comment(text: str) -> str:
    """Return text for a TOML comment: one line, no control characters."""
    plain = text.encode("utf-8", "replace").decode()
    kept = "".join(letter if letter.isprintable() else " " for letter in plain)
    return " ".join(kept.split())


def _slug(text: str) -> str:
    return fold(text).replace(" ", "-") or "source"


def _widened(name: str) -> str | None:
    """Return a pattern for later exports of the same shape, if the name is dated."""
    wide = re.sub(r"20\d{2}[-_.]?\d{0,2}[-_.]?\d{0,2}", "*", name)
    return wide if wide != name else None


def block_text(
    *,
    path: Path,
    layout: Layout,
    kind: KindProposal,
    headers: Sequence[str],
    records: str | None,
    dates: DateChoice,
    decimal: DecimalChoice,
    currency: CurrencyChoice | None,
    words: Sequence[WordMap],
    is_nested: bool,
) -> str:
    """Return one ``[[source]]`` block.

    Parameters
    ----------
    path : Path
        The file described.
    layout : Layout
        How it was read.
    kind, headers, records, dates, decimal, currency, words
        What was proposed.
    is_nested : bool
        A list inside the records of the file.

    Returns
    -------
    str
        TOML, ending in a line end; what the file leaves open is a comment.
    """
    lines = [
        f"# {_comment(path.name)}: {kind.kind}, {kind.certainty:.0%} sure "
        f"({_comment(kind.why)})"
    ]
    lines += [
        f"# REQUIRED: no column was found for {name}; add it below."
        for name in kind.missing
    ]
    name = f"{path.name} {records}" if is_nested else path.name
    lines += ["[[source]]", f"name = {quoted(_slug(name))}"]
    wide = _widened(path.name)
    lines.append(
        f"files = {quoted(file_pattern(path))}"
        + (f"  # {quoted(wide)} would take later exports too" if wide else "")
    )
    lines.append(f"kind = {quoted(kind.kind)}")
    lines += _reading_lines(layout, records)
    lines += _date_lines(dates)
    lines += _amount_lines(decimal, currency)
    lines += ["", "[source.columns]", *_column_lines(kind, headers)]
    if dates.by_field:
        lines += ["", "[source.date_formats]"]
        lines += [f"{field} = {quoted(text)}" for field, text in dates.by_field.items()]
    for one in words:
        lines += ["", f"[source.values.{one.field}]", *_word_lines(one)]
    return "\n".join(lines) + "\n"


def _reading_lines(layout: Layout, records: str | None) -> Iterator[str]:
    """Yield how the file is opened."""
    if layout.kind == "text":
        why = _comment(layout.encoding_why)
        yield f"encoding = {quoted(layout.encoding or '')}  # {why}"
        mark = layout.delimiter or ","
        yield f"delimiter = {quoted(mark)}  # {delimiter_name(mark)}"
    if layout.kind in ("text", "workbook"):
        yield f"header_row = {layout.header_row}"
    if layout.sheet is not None:
        others = [name for name in layout.sheets if name != layout.sheet]
        also = f"  # other sheets: {_comment(', '.join(others))}" if others else ""
        yield f"sheet = {quoted(layout.sheet)}{also}"
    if records:
        yield f"records = {quoted(records)}"


def _date_lines(dates: DateChoice) -> Iterator[str]:
    """Yield the date format, or the question that the file leaves open."""
    for note in dates.notes:
        yield f"# dates, {_comment(note)}"
    if dates.undecided:
        first = next(iter(dates.undecided.values()))
        choices = '"  or "'.join(first)
        yield f'# date_format = "{choices}": the file does not decide'
    elif dates.file_wide:
        yield f"date_format = {quoted(dates.file_wide)}"


def _amount_lines(
    decimal: DecimalChoice, currency: CurrencyChoice | None
) -> Iterator[str]:
    """Yield decimal sign and currency."""
    why = _comment(decimal.why)
    if decimal.ambiguous:
        yield f'# decimal = ","  or ".": the file does not decide ({why})'
    elif decimal.sign:
        yield f"decimal = {quoted(decimal.sign)}  # {why}"
    if currency is None:
        return
    if currency.code:
        yield f"currency = {quoted(currency.code)}  # {_comment(currency.why)}"
    else:
        yield f'# currency = "EUR"  # {_comment(currency.why)}'


def _column_lines(kind: KindProposal, headers: Sequence[str]) -> Iterator[str]:
    """Yield the mapping, with how sure and why."""
    found = {one.header: one for one in kind.assignments}
    for header in headers:
        one = found.get(header)
        if one is None and header.startswith("^"):
            continue  # the enclosing record has a block of its own
        if one is None:
            yield f"# {quoted(header)} is kept in extra"
            continue
        sure = "" if one.certainty >= _SURE else "CHECK, "
        yield (
            f"{quoted(header)} = {quoted(one.field)}  # {sure}{one.certainty:.0%}: "
            f"{_comment(one.why)}"
        )


def _word_lines(words: WordMap) -> Iterator[str]:
    """Yield the value map of one field."""
    for text, meaning in words.words.items():
        yield f"{quoted(text)} = {quoted(meaning)}"
    for text, count in words.unknown.items():
        if words.field == "finding":
            yield f'{quoted(text)} = "other"  # CHECK, unknown word, {count} rows'
        else:
            yield f"# {quoted(text)} = ?  unknown word, {count} rows"
