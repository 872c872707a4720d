"""The tables of a report as raw data, and what is said beside them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import pandas as pd

from claimlens.currencies import CURRENCIES
from claimlens.errors import ReportError
from claimlens.handover.cells import records

__all__ = [
    "KIND_WORDS",
    "Kind",
    "ReportTables",
    "Sheet",
    "columns_sheet",
    "contents_sheet",
    "definitions_sheet",
    "sheet_document",
    "typed",
]

#: What a column holds; decides type and format in everything that leaves.
Kind = Literal[
    "text",
    "key",
    "note",
    "flag",
    "count",
    "number",
    "ratio",
    "share",
    "chance",
    "money",
    "months",
    "year",
    "month",
    "date",
]

#: Each kind in the words of the list of columns.
KIND_WORDS: dict[str, str] = {
    "text": "words",
    "key": "a number or code that names something, kept as text",
    "note": "what limits the figures of the row",
    "flag": "true or false",
    "count": "a whole number",
    "number": "a number, in general not whole",
    "ratio": "a ratio, 1 is equal",
    "share": "a share, 0 to 1, shown in per cent",
    "chance": "a probability, 0 to 1",
    "money": "an amount of money",
    "months": "months of 30.4375 days",
    "year": "a year",
    "month": "a calendar month, by its first day",
    "date": "a day",
}

_DATES = frozenset({"date", "month"})
_TEXTS = frozenset({"text", "key", "note"})
_WHOLE = frozenset({"count", "year"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One table of a report as raw data.

    Parameters
    ----------
    id : str
        Names its file: small letters, digits and hyphens; never changes once
        published.
    title : str
        What the rows are, short enough for the name of a sheet.
    basis : str
        Population, period and cut-off, as a sentence.
    frame : DataFrame
        Raw figures: shares 0 to 1, NaN where a figure cannot be told.
    kinds : mapping of str to Kind
        One a column of the frame.
    currency : str
        Column that holds the currency of the amounts, or one ISO 4217 code.
    note : str
        Why the table is empty or what must be kept in mind; else empty.

    Raises
    ------
    ReportError
        If a column has no kind, or amounts have no currency.
    """

    id: str
    title: str
    basis: str
    frame: pd.DataFrame
    kinds: Mapping[str, Kind]
    currency: str = "currency"
    note: str = ""

    def __post_init__(self) -> None:
        """Check that every column is told what it holds."""
        columns = [str(column) for column in self.frame.columns]
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", self.id):
            raise _refused(self.id, "its id is no file name of small letters", "id")
        for column in dict.fromkeys([*columns, *self.kinds]):
            if columns.count(column) != 1 or self.kinds.get(column) not in KIND_WORDS:
                raise _refused(self.id, f"{column!r} has not one kind", column)
        if "money" in self.kinds.values() and not (
            self.currency in columns or self.currency in CURRENCIES
        ):
            raise _refused(self.id, "its amounts have no currency", self.currency)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportTables:
    """All tables of one report, and what it is.

    Parameters
    ----------
    report : str
        Which report: ``monthly``, ``supplier`` and the like.
    title : str
        Title of its page.
    about : tuple of (str, str)
        What made it: cut-off, version, digests.
    sheets : tuple of Sheet
        In the order of the page; ids and titles differ.
    definitions : tuple of (str, str)
        Terms and their meaning.

    Raises
    ------
    ReportError
        If two sheets share an id, or one has that of the lists beside them:
        ``contents``, ``columns``, ``definitions``.
    """

    report: str
    title: str
    about: tuple[tuple[str, str], ...]
    sheets: tuple[Sheet, ...]
    definitions: tuple[tuple[str, str], ...]

    def __post_init__(self) -> None:
        """Check that every sheet has an id of its own."""
        taken = {"contents", "columns", "definitions"}
        for sheet in self.sheets:
            if sheet.id in taken:
                raise _refused(sheet.id, "its id is taken", "id")
            taken.add(sheet.id)


def _refused(id_: str, why: str, column: str) -> ReportError:
    return ReportError(
        f"The table {id_} cannot leave: {why}.",
        source="report",
        column=column,
        remedy="hand over each table with an id, and a kind for each column",
    )


def typed(sheet: Sheet) -> pd.DataFrame:
    """Return the rows of a sheet with one type a column.

    Parameters
    ----------
    sheet : Sheet
        The table.

    Returns
    -------
    pandas.DataFrame
        Counts and years Int64 (float64 where one is no whole number), figures
        float64, flags boolean, dates as days, texts as text; what is missing or
        not finite is missing.
    """
    result = pd.DataFrame(index=sheet.frame.index)
    for name in sheet.frame.columns:
        result[name] = _typed(sheet.frame[name], sheet.kinds[str(name)])
    return result.reset_index(drop=True)


def _typed(values: pd.Series, kind: Kind) -> pd.Series:
    """Return one column in the type of its kind."""
    if kind in _TEXTS:
        return pd.Series(
            [None if pd.isna(value) else str(value) for value in values],
            index=values.index,
            dtype="str",
        )
    if kind in _DATES:
        return pd.to_datetime(values).dt.normalize().astype("datetime64[s]")
    if kind == "flag":
        return values.astype("boolean")
    numbers = pd.to_numeric(
        pd.Series(
            [None if pd.isna(value) else float(value) for value in values],
            index=values.index,
            dtype="float64",
        )
    )
    numbers = numbers.where(numbers.abs() != float("inf"))
    known = numbers.dropna()
    if kind in _WHOLE and bool((known == known.round()).all()):
        return numbers.astype("Int64")
    return numbers


def contents_sheet(tables: ReportTables) -> Sheet:
    """Return the list of the tables of a report.

    Parameters
    ----------
    tables : ReportTables
        The report.

    Returns
    -------
    Sheet
        One row a table: ``id, title, rows, basis, note``.
    """
    rows = [(s.id, s.title, len(s.frame), s.basis, s.note) for s in tables.sheets]
    return Sheet(
        id="contents",
        title="Contents",
        basis=tables.title,
        frame=pd.DataFrame(rows, columns=["id", "title", "rows", "basis", "note"]),
        kinds={
            **{"id": "key", "title": "text", "rows": "count"},
            **{"basis": "text", "note": "note"},
        },
    )


def columns_sheet(tables: ReportTables) -> Sheet:
    """Return what each column of each table holds.

    Parameters
    ----------
    tables : ReportTables
        The report.

    Returns
    -------
    Sheet
        One row a column: ``table`` (id), ``title``, ``column``, ``kind``,
        ``holds`` in words, ``currency`` (a column or a code) of amounts.
    """
    rows = [
        (
            sheet.id,
            sheet.title,
            str(name),
            sheet.kinds[str(name)],
            KIND_WORDS[sheet.kinds[str(name)]],
            sheet.currency if sheet.kinds[str(name)] == "money" else None,
        )
        for sheet in tables.sheets
        for name in sheet.frame.columns
    ]
    names = ["table", "title", "column", "kind", "holds", "currency"]
    return Sheet(
        id="columns",
        title="Columns",
        basis="Every column of every table, and what it holds.",
        frame=pd.DataFrame(rows, columns=names),
        kinds=dict.fromkeys(names, "text"),
    )


def definitions_sheet(tables: ReportTables) -> Sheet:
    """Return the terms of a report and what they mean.

    Parameters
    ----------
    tables : ReportTables
        The report.

    Returns
    -------
    Sheet
        One row a term: ``term``, ``meaning``.
    """
    return Sheet(
        id="definitions",
        title="Definitions",
        basis="What the terms mean.",
        frame=pd.DataFrame(list(tables.definitions), columns=["term", "meaning"]),
        kinds={"term": "text", "meaning": "note"},
    )


def sheet_document(tables: ReportTables) -> dict[str, object]:
    """Return all tables of a report as one document for JSON.

    Parameters
    ----------
    tables : ReportTables
        The report.

    Returns
    -------
    dict
        ``report``, ``title``, ``about``, ``definitions`` and ``tables``: by id
        ``title``, ``basis``, ``note``, ``columns`` (kind by name) and ``rows``,
        flat records.
    """
    return {
        "report": tables.report,
        "title": tables.title,
        "about": dict(tables.about),
        "definitions": dict(tables.definitions),
        "tables": {
            sheet.id: {
                "title": sheet.title,
                "basis": sheet.basis,
                "note": sheet.note or None,
                "columns": {str(n): sheet.kinds[str(n)] for n in sheet.frame.columns},
                "rows": records(typed(sheet)),
            }
            for sheet in tables.sheets
        },
    }
