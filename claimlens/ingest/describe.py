"""Say how a file is written and propose the source block that loads it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from claimlens.errors import SourceError
from claimlens.ingest.columns import ColumnProfile, ColumnValues
from claimlens.ingest.decisions import (
    CurrencyChoice,
    DateChoice,
    DecimalChoice,
    WordMap,
    choose_currency,
    choose_dates,
    choose_decimal,
    map_words,
)
from claimlens.ingest.dialect import delimiter_name
from claimlens.ingest.numbers import DecimalEvidence
from claimlens.ingest.proposal import Assignment, KindProposal, propose_kind
from claimlens.ingest.records import Layout, Records, SourceBlock, open_records
from claimlens.ingest.source_text import block_text
from claimlens.tables import TABLES

__all__ = ["Description", "SourceProposal", "describe"]

_SURE = 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceProposal:
    """One proposed source block.

    Parameters
    ----------
    kind : KindProposal
        Canonical table and the columns that fill it.
    headers : tuple of str
        Columns of the file.
    records : str or None
        JSON: path to the list.
    dates, decimal, currency, words
        What was decided for the whole file.
    """

    kind: KindProposal
    headers: tuple[str, ...]
    records: str | None
    dates: DateChoice
    decimal: DecimalChoice
    currency: CurrencyChoice | None
    words: tuple[WordMap, ...]

    def assignment(self, header: str) -> Assignment | None:
        """Return what a column fills."""
        found = (one for one in self.kind.assignments if one.header == header)
        return next(found, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """How a file is written, and how it can be loaded.

    Parameters
    ----------
    path : Path
        The file.
    layout : Layout
        Reader, encoding, delimiter, header row, sheet.
    columns : tuple of ColumnProfile
        In the order of the file.
    rows_read, rejected, skipped_lines : int
        The account of the file as read.
    proposal : SourceProposal
        The block for the file's own records.
    nested : tuple of SourceProposal
        Blocks for lists inside JSON records.
    """

    path: Path
    layout: Layout
    columns: tuple[ColumnProfile, ...]
    rows_read: int
    rejected: int
    skipped_lines: int
    proposal: SourceProposal
    nested: tuple[SourceProposal, ...] = ()

    @property
    def kind(self) -> str:
        """Return the proposed kind."""
        return self.proposal.kind.kind

    @property
    def certainty(self) -> float:
        """Return how sure the kind is, 0 to 1."""
        return self.proposal.kind.certainty

    @property
    def ambiguous_dates(self) -> tuple[str, ...]:
        """Return the headers of dates whose order the file leaves open."""
        return tuple(self.proposal.dates.undecided)

    def source_block(self) -> str:
        """Return the ``[[source]]`` blocks to append to ``claimlens.toml``."""
        return "\n".join(
            block_text(
                path=self.path,
                layout=self.layout,
                kind=one.kind,
                headers=one.headers,
                records=one.records,
                dates=one.dates,
                decimal=one.decimal,
                currency=one.currency,
                words=one.words,
                is_nested=one is not self.proposal,
            )
            for one in (self.proposal, *self.nested)
        )

    def text(self) -> str:
        """Return the description for a reader."""
        lines = [f"{self.path.name}: {_layout_words(self.layout)}"]
        lines.append(
            f"  {self.rows_read} rows, {self.rejected} of them unreadable, "
            f"{self.skipped_lines} lines that are no rows (titles, totals, blanks)"
        )
        kind = self.proposal.kind
        lines.append(
            f"  looks like {kind.kind} ({kind.certainty:.0%} sure): {kind.why}"
        )
        if kind.missing:
            lines.append(f"  no column was found for {', '.join(kind.missing)}")
        lines.append("")
        lines += [self._column_line(column) for column in self.columns]
        lines.append("")
        lines += self._decision_lines()
        lines += ["", "Proposed source block:", "", self.source_block()]
        return "\n".join(lines)

    def _column_line(self, column: ColumnProfile) -> str:
        found = self.proposal.assignment(column.name)
        goes = (
            f"-> {found.field} ({found.certainty:.0%}: {found.why})"
            if found
            else "-> kept in extra"
        )
        examples = ", ".join(_short(example) for example in column.examples)
        return f"  {column.name}  [{examples}]  {column.null_share:.0%} empty  {goes}"

    def _decision_lines(self) -> list[str]:
        one = self.proposal
        lines = [f"  date format: {note}" for note in one.dates.notes]
        for header, formats in one.dates.undecided.items():
            lines.append(
                f"  {header}: say whether it is {' or '.join(formats)}; the file does "
                "not decide"
            )
        lines.append(f"  decimal sign: {one.decimal.sign or 'none'}, {one.decimal.why}")
        if one.currency is not None:
            lines.append(
                f"  currency: {one.currency.code or 'unknown'}, {one.currency.why}"
            )
        return lines


def _short(text: str) -> str:
    plain = " ".join(text.split())
    return plain if len(plain) <= 28 else plain[:27] + "…"


def _layout_words(layout: Layout) -> str:
    """Return how a file was read, in words."""
    if layout.kind == "text":
        return (
            f"delimited text, {layout.encoding} ({layout.encoding_why}), "
            f"{delimiter_name(layout.delimiter or '')} between fields, header in line "
            f"{layout.header_row}"
        )
    if layout.kind == "workbook":
        others = [name for name in layout.sheets if name != layout.sheet]
        also = f" (other sheets: {', '.join(others)})" if others else ""
        return (
            f"workbook, sheet {layout.sheet!r}{also}, header in row {layout.header_row}"
        )
    if layout.kind == "json lines":
        return "JSON Lines, one record a line"
    if layout.kind == "json":
        return f"JSON, records at {layout.records or 'the top'}"
    return "Parquet"


def _profiles(records: Records, most: int | None) -> dict[str, ColumnProfile]:
    """Go through the file and sum up each column."""
    from_cells = records.layout.kind == "workbook"
    gathered = {
        name: ColumnValues(name, numbers=DecimalEvidence(from_cells=from_cells))
        for name in records.headers
    }
    seen = 0
    for chunk in records.chunks():
        for name, values in chunk.values.items():
            gathered[name].add(values)
        seen += len(chunk.rows)
        if most is not None and seen >= most:
            break
    return {name: values.profile() for name, values in gathered.items()}


def _propose(
    records: Records,
    profiles: dict[str, ColumnProfile],
    path: Path,
    kinds: Collection[str],
    path_to_list: str | None,
) -> SourceProposal:
    """Decide everything for one list of records."""
    kind = propose_kind(records.headers, profiles, path=path, kinds=tuple(kinds))
    table = TABLES[kind.kind]
    return SourceProposal(
        kind=kind,
        headers=records.headers,
        records=path_to_list,
        dates=choose_dates(kind.assignments, profiles, table),
        decimal=choose_decimal(kind.assignments, profiles, table),
        currency=choose_currency(
            kind.assignments, profiles, table, records.layout.titles
        ),
        words=map_words(kind.assignments, profiles, table),
    )


def describe(
    path: Path,
    *,
    kinds: Collection[str] = tuple(TABLES),
    sample_rows: int | None = None,
) -> Description:
    """Describe a file and propose how to load it.

    Parameters
    ----------
    path : Path
        Any export.
    kinds : collection of str, optional
        The kinds it may be of.
    sample_rows : int, optional
        Stop after so many rows; by default the whole file is read, because
        the one date that decides its order may stand at the end.

    Returns
    -------
    Description
        With examples, certainties and reasons.

    Raises
    ------
    SourceError
        If the file cannot be read at all.
    """
    records = open_records(path, source=SourceBlock(name=path.stem))
    profiles = _profiles(records, sample_rows)
    proposal = _propose(records, profiles, path, kinds, records.layout.records)
    nested = [
        found
        for below in records.layout.paths
        if (found := _nested(path, records.layout.records, below, kinds, sample_rows))
    ]
    return Description(
        path=path,
        layout=records.layout,
        columns=tuple(profiles[name] for name in records.headers),
        rows_read=records.rows_read,
        rejected=len(records.rejected),
        skipped_lines=records.skipped_lines,
        proposal=proposal,
        nested=tuple(nested),
    )


def _nested(
    path: Path,
    above: str | None,
    below: str,
    kinds: Collection[str],
    most: int | None,
) -> SourceProposal | None:
    """Propose a block for a list inside the records, if it is a kind of its own."""
    inner = f"{above}.{below}" if above else below
    try:
        records = open_records(path, source=SourceBlock(name=path.stem, records=inner))
    except SourceError:
        return None
    profiles = _profiles(records, most)
    found = _propose(
        records,
        profiles,
        Path(f"{below}.json"),
        [kind for kind in kinds if kind in ("claim_parts", "findings", "fitted_parts")],
        inner,
    )
    surely = found.kind.certainty >= 0.5 and not found.kind.missing
    return found if surely else None
