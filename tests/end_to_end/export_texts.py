"""Delimited texts, spoilt in their form, with the line of every row."""

from __future__ import annotations

import gzip
import random
from pathlib import Path

from export_claims import Row, words
from export_forms import Style, total_cells


class TextFile:
    """Lines of a delimited text, with the physical line of every row."""

    def __init__(
        self, delimiter: str, *, quote_all: bool, trailing: bool = False
    ) -> None:
        self.delimiter = delimiter
        self.trailing = trailing
        self.quote_all = quote_all
        self.parts: list[str] = []
        self.line = 1
        self.skipped = 0

    def cell(self, text: str) -> str:
        """Quote a cell where it must be."""
        if self.quote_all or any(sign in text for sign in (self.delimiter, '"', "\n")):
            return '"' + text.replace('"', '""') + '"'
        return text

    def raw(self, text: str, *, skipped: bool = False) -> int:
        """Add lines as they are; return the first one's number."""
        first = self.line
        count = text.count("\n") + 1
        self.parts.append(text)
        self.line += count
        self.skipped += count if skipped else 0
        return first

    def record(self, cells: list[str], *, skipped: bool = False) -> int:
        """Add one record."""
        end = self.delimiter if self.trailing else ""
        return self.raw(
            self.delimiter.join(map(self.cell, cells)) + end, skipped=skipped
        )


FORM_FAULTS = ("cut short", "extra field", "inch mark", "open quote")


def write_row(
    rng: random.Random,
    out: TextFile,
    cells: list[str],
    row: Row,
    *,
    fault: str,
    text_at: int | None,
) -> None:
    """Write one row, spoilt in its form where ``fault`` says so."""
    if fault == "cut short":
        row.verdict, row.why = "bad", fault
        row.number = out.record(cells[: rng.randrange(3, len(cells) - 2)])
    elif fault == "extra field":
        row.verdict, row.why = "bad", fault
        place = text_at if text_at is not None else 4
        cells = [*cells[:place], "Rad", *cells[place:]]
        row.number = out.record(cells)
    elif fault and text_at is not None:
        row.verdict, row.why = "either", fault
        texts = [out.cell(cell) for cell in cells]
        texts[text_at] = 'Felge 12" krumm' if fault == "inch mark" else '"Akku defekt'
        if out.quote_all:
            texts[text_at] = '"Felge 12" krumm"'
        row.number = out.raw(
            out.delimiter.join(texts) + (out.delimiter if out.trailing else "")
        )
    else:
        row.number = out.record(cells)


def write_text(
    rng: random.Random,
    path: Path,
    rows: list[Row],
    headers: dict[str, str],
    style: Style,
    *,
    delimiter: str,
    encoding: str,
    bom: bytes = b"",
    quote_all: bool = False,
    titles: bool = True,
    totals: bool = True,
    repeats: bool = False,
    blanks: bool = False,
    line_breaks: bool = False,
    newline: str = "\r\n",
    form_faults: tuple[str, ...] = FORM_FAULTS,
    unseen: bool = False,
    trailing: bool = False,
    declared: bool = False,
) -> int:
    """Write a delimited text and number its rows; return the lines that are no rows."""
    out = TextFile(delimiter, quote_all=quote_all, trailing=trailing)
    if declared:
        out.raw(f"sep={delimiter}", skipped=True)
    language = style.language
    if titles:
        out.raw(rng.choice(words(language, "title", unseen=unseen)), skipped=True)
        out.raw(rng.choice(["Ostrova Mobil", "2024-06-30", "Q2/2024 v3"]), skipped=True)
        if rng.random() < 0.6:
            out.raw("", skipped=True)
    out.record(list(headers.values()))
    names = list(headers)
    text_at = next(
        (
            names.index(n)
            for n in ("narrative", "technician_note", "junk_customer")
            if n in headers
        ),
        None,
    )
    sound = [i for i, row in enumerate(rows) if row.verdict == "accept"]
    spoilt = dict(
        zip(rng.sample(sound, 2 * len(form_faults)), form_faults * 2, strict=True)
    )
    closed = {row.values["claim_no"] for row in rows if row.verdict == "superseded"}
    for index, row in enumerate(rows):
        cells = [style.text(name, row) for name in names]
        if line_breaks and "narrative" in headers and rng.random() < 0.08:
            at = names.index("narrative")
            cells[at] = cells[at].replace(" ", "\n", 1) + "\n\n2x"
        fault = spoilt.get(index, "")
        if row.values.get("claim_no") in closed:
            fault = ""
        write_row(rng, out, cells, row, fault=fault, text_at=text_at)
        if blanks and rng.random() < 0.02:
            out.raw(rng.choice(["", "", delimiter * (len(names) - 1)]), skipped=True)
        if repeats and index % 60 == 59:
            out.record(
                total_cells(rng, headers, style, rows[:40], unseen), skipped=True
            )
            out.record(list(headers.values()), skipped=True)
    if totals:
        out.record(total_cells(rng, headers, style, rows, unseen), skipped=True)
        footer = rng.choice(words(language, "footer", unseen=unseen)).replace(
            "{n}", str(len(rows))
        )
        out.raw(footer, skipped=True)
    text = newline.join(part.replace("\n", newline) for part in out.parts) + newline
    data = bom + text.encode(encoding)
    path.write_bytes(gzip.compress(data, mtime=0) if path.suffix == ".gz" else data)
    return out.skipped
