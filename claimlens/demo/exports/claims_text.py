"""Claims exports as delimited text, each country in its own writing."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from claimlens.demo.draws import Draws
from claimlens.demo.exports.lines import (
    Lines,
    date_words,
    grouped,
    number_text,
    source_block,
)
from claimlens.demo.exports.model import Export, FileTruth, RowTruth
from claimlens.tables import TABLES

__all__ = ["TextForm", "claims_export", "written_columns"]

EXTRA_FIELD = "handled_by"  # a column of theirs that no canonical field wants
DIRT_KINDS = 5
HANDLERS = ("MK", "TS", "BW", "JR")


@dataclass(frozen=True, slots=True, kw_only=True)
class TextForm:
    """How one country writes its claims export.

    Parameters
    ----------
    columns : dict of str to str
        Canonical field (or ``handled_by``) to header, in the file's order.
    status, goodwill, reasons : dict of str to str
        Canonical word to the file's own.
    date, stamp : str
        ``strftime`` forms of dates and of time stamps.
    date_format : str
        The same in the words of the settings.
    bad_date : str
        A day that no calendar has, in this writing.
    money : callable
        Cents to the file's own amount.
    titles, foot : tuple of str
        Lines above the header and below the rows; ``{rows}`` and ``{total}``
        are filled in.
    header_every : int
        Repeat the header after so many rows; 0 for never.
    breaks : bool
        Owners' line breaks are kept inside quotes.
    """

    source: str
    pattern: str
    regions: tuple[str, ...]
    columns: dict[str, str]
    status: dict[str, str]
    goodwill: dict[str, str]
    reasons: dict[str, str] = field(default_factory=dict)
    delimiter: str
    encoding: str
    line_end: str = "\n"
    date: str
    stamp: str
    date_format: str
    bad_date: str
    decimal: str
    currency: str | None
    money: Callable[[int], str]
    titles: tuple[str, ...] = ()
    foot: tuple[str, ...] = ()
    page_total: str = ""
    header_every: int = 0
    breaks: bool = False

    @property
    def headers(self) -> list[str]:
        """Return the header row."""
        return list(self.columns.values())

    def block(self) -> str:
        """Return the source block that reads the files of this form."""
        options: dict[str, str | int] = {
            "encoding": self.encoding,
            "delimiter": self.delimiter,
            "header_row": len(self.titles) + 1,
            "date_format": self.date_format,
            "decimal": self.decimal,
        }
        if self.currency:
            options["currency"] = self.currency
        return source_block(
            name=self.source,
            files=self.pattern,
            kind="claims",
            options=options,
            columns={h: f for f, h in self.columns.items() if f != EXTRA_FIELD},
            values={
                "status": {theirs: ours for ours, theirs in self.status.items()},
                "goodwill": {theirs: ours for ours, theirs in self.goodwill.items()},
            },
        )


def written_columns(form: TextForm, claims: pd.DataFrame) -> list[list[str]]:
    """Return the claims as rows of text in the form's writing."""
    table = TABLES["claims"]
    columns = []
    for name in form.columns:
        if name == EXTRA_FIELD:
            numbers = (str(number).encode() for number in claims["claim_no"])
            columns.append([HANDLERS[zlib.crc32(n) % len(HANDLERS)] for n in numbers])
            continue
        values, kind = claims[name], table.field(name).type
        if kind == "date":
            columns.append(date_words(values, form.date))
        elif kind == "timestamp":
            columns.append(date_words(values, form.stamp))
        elif kind == "money":
            columns.append([number_text(value, form.money) for value in values])
        else:
            words = {
                "status": form.status,
                "goodwill": form.goodwill,
                "decision_reason": form.reasons,
            }.get(name, {})
            columns.append(
                ["" if pd.isna(v) else words.get(str(v), str(v)) for v in values]
            )
    return [list(row) for row in zip(*columns, strict=True)]


@dataclass(frozen=True, slots=True)
class _Dirt:
    """A damaged copy of a row: what to write, and what a load must make of it."""

    values: Sequence[str]
    column: str | None
    why: str
    verdict: str  # rejected or flagged
    cut: bool = False


def _dirt(form: TextForm, row: Sequence[str], number: str) -> list[_Dirt]:
    """Return the damaged copies that follow a row."""
    names = list(form.columns)
    cancelled = form.status["cancelled"]

    def copy(**changes: str) -> list[str]:
        values = list(row)
        for name, value in changes.items():
            values[names.index(name)] = value
        return values

    withdrawn = {"status": cancelled, "claim_no": f"{number}-2"}
    return [
        _Dirt(
            copy(claim_no=f"{number}-1", reported_on=form.bad_date),
            "reported_on",
            "a day that no calendar has",
            "rejected",
        ),
        _Dirt(copy(claim_no=""), "claim_no", "no claim number", "rejected"),
        _Dirt(list(row)[:6], None, "cut short", "rejected", cut=True),
        _Dirt(
            copy(**withdrawn, amount_requested=form.money(-4550)),
            "amount_requested",
            "negative amount",
            "flagged",
        ),
        _Dirt(
            copy(
                status=cancelled,
                claim_no=f"{number}-3",
                failed_on=row[names.index("closed_on")],
            ),
            "reported_on",
            "reported before it failed",
            "flagged",
        ),
    ]


def claims_export(
    form: TextForm, name: str, claims: pd.DataFrame, seed: int, older: pd.DataFrame
) -> Export:
    """Write one claims export.

    Parameters
    ----------
    form : TextForm
        How it is written.
    name : str
        File name.
    claims : DataFrame
        Canonical claims, in the order of the file.
    seed : int
        Seed of the world.
    older : DataFrame
        A few earlier states of claims of ``claims``, written above them.

    Returns
    -------
    Export
        Bytes, account and source block.
    """
    lines = Lines(form.delimiter, form.line_end)
    for title in form.titles:
        lines.skip(title)
    lines.header(form.headers)
    rows = written_columns(form, claims)
    _break_lines(form, rows, Draws(seed, f"breaks {name}"))
    for row in written_columns(form, older):
        lines.row(row)
    found: dict[str, list[RowTruth]] = {"rejected": [], "flagged": []}
    added: list[str] = []
    places = _dirty_places(claims)
    for position, row in enumerate(rows):
        _turn_page(form, lines, position)
        lines.row(row)
        if position not in places:
            continue
        dirt = _dirt(form, row, f"{row[0]}X")[places[position]]
        text = lines.join(dirt.values)
        start = lines.raw_row(text) if dirt.cut else lines.row(dirt.values)
        found[dirt.verdict].append(RowTruth(start, dirt.column, dirt.why))
        if dirt.verdict == "flagged":
            added.append(dirt.values[0])
    total = round(claims["amount_requested"].sum() * 100)
    for text in form.foot:
        lines.skip(text.format(rows=len(rows), total=form.money(total)))
    truth = FileTruth(
        file=name,
        kind="claims",
        rows_read=lines.rows,
        rejected=tuple(found["rejected"]),
        flagged=tuple(found["flagged"]),
        superseded=len(older),
        skipped_lines=lines.skipped,
        added=tuple(added),
    )
    return Export(
        name=name,
        content=lines.encode(form.encoding),
        truths=(truth,),
        blocks=(form.block(),),
    )


def _dirty_places(claims: pd.DataFrame) -> dict[int, int]:
    """Return after which rows which damaged copy stands.

    Sound claims are copied, so that each copy carries the one fault it is
    made for; a world of a few claims has none to spare.
    """
    sound = claims["failed_on"] >= claims["in_service_date"].fillna(pd.Timestamp(0))
    closed = np.flatnonzero(sound & (claims["status"] == "closed"))
    if len(closed) < DIRT_KINDS + 1:
        return {}
    steps = range(1, DIRT_KINDS + 1)
    return {int(closed[len(closed) * k // (DIRT_KINDS + 1)]): k - 1 for k in steps}


def _turn_page(form: TextForm, lines: Lines, position: int) -> None:
    """Close a page with its total and open the next with the header again."""
    if form.header_every and position and position % form.header_every == 0:
        if form.page_total:
            lines.skip(form.page_total.format(rows=form.header_every))
        lines.skip(lines.join(form.headers))


def _break_lines(form: TextForm, rows: list[list[str]], draws: Draws) -> None:
    """Put line breaks into some narratives, as owners write them."""
    if not form.breaks:
        return
    where = list(form.columns).index("narrative")
    chosen = draws.chance(0.25, len(rows))
    for row, broken in zip(rows, chosen, strict=True):
        if broken:
            row[where] = row[where].replace(". ", ".\n").replace(": ", ":\n")


def plain(thousands: str, decimal: str) -> Callable[[int], str]:
    """Return a writer of amounts such as ``1.234,50``."""
    return lambda cents: grouped(cents, thousands, decimal)


def signed(sign: str) -> Callable[[int], str]:
    """Return a writer of amounts such as ``$1,234.50`` and ``($45.50)``."""

    def write(cents: int) -> str:
        amount = sign + grouped(abs(cents), ",", ".")
        return f"({amount})" if cents < 0 else amount

    return write
