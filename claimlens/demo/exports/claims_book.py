"""The Swiss claims export: a workbook with a cover sheet and mixed cells."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xlsxwriter

from claimlens.demo.draws import Draws, Floats
from claimlens.demo.exports.lines import grouped, source_block
from claimlens.demo.exports.model import Export, FileTruth, RowTruth
from claimlens.tables import TABLES

__all__ = ["book_block", "book_export"]

SHEET = "Gesuche"
HEADER_ROW = 5
BLANK_EVERY = 400  # a blank row after so many claims
# shares of cells that a person typed over
DATE_AS_TEXT = 0.08
AMOUNT_AS_TEXT = 0.06
NUMBER_AS_TEXT = 0.1

COLUMNS = {
    "claim_no": "Gesuchsnummer",
    "reported_on": "Meldedatum",
    "serial": "Rahmennummer",
    "model": "Modell",
    "model_year": "Modelljahr",
    "in_service_date": "Übergabe an Kunde",
    "failed_on": "Schadendatum",
    "decided_on": "Entscheid am",
    "closed_on": "Abgeschlossen am",
    "status": "Status",
    "decision_reason": "Begründung",
    "amount_requested": "Betrag beantragt",
    "amount_approved": "Betrag bewilligt",
    "narrative": "Beanstandung",
    "technician_note": "Befund Werkstatt",
    "resolution": "Massnahme",
    "usage": "Laufleistung",
    "usage_unit": "Einheit",
    "region": "Land",
    "dealer": "Händlernummer",
    "part_no": "Teilenummer",
    "quantity": "Anzahl",
    "cost_parts": "Material",
    "cost_labour": "Arbeit",
    "cost_freight": "Fracht",
    "cost_total": "Total",
    "currency": "Währung",
    "goodwill": "Kulanz",
    "updated_at": "Stand",
}
STATUS = {
    "open": "pendent",
    "approved": "bewilligt",
    "denied": "abgelehnt",
    "cancelled": "zurückgezogen",
    "closed": "erledigt",
}
GOODWILL = {"yes": "ja", "no": "nein"}
KEY_DIGITS = {"claim_no": 7, "dealer": 5, "part_no": 8}


class _Writer:
    """Writes cells the way people leave them in workbooks."""

    def __init__(self, book: Any, sheet: Any, draws: Draws, rows: int) -> None:
        self._sheet = sheet
        self._chance: Floats = draws.uniform(rows, len(COLUMNS))
        self._date = book.add_format({"num_format": "dd.mm.yyyy"})
        self._stamp = book.add_format({"num_format": "dd.mm.yyyy hh:mm:ss"})
        self._money = book.add_format({"num_format": "#,##0.00"})
        self._padded = {
            digits: book.add_format({"num_format": "0" * digits})
            for digits in KEY_DIGITS.values()
        }

    def row(self, at: int, index: int, values: Sequence[Any]) -> None:
        """Write a claim into sheet row ``at`` (counted from 0)."""
        for column, (name, value) in enumerate(zip(COLUMNS, values, strict=True)):
            if value is None or value is pd.NaT or pd.isna(value):
                continue
            self._cell(at, column, name, value, self._chance[index, column])

    def _cell(self, at: int, column: int, name: str, value: Any, draw: float) -> None:
        kind = TABLES["claims"].field(name).type
        if isinstance(value, str) and name in KEY_DIGITS:
            self._key(at, column, KEY_DIGITS[name], value, draw)
        elif isinstance(value, str):
            words = {"status": STATUS, "goodwill": GOODWILL}.get(name, {})
            self._sheet.write_string(at, column, words.get(value, value))
        elif kind == "timestamp":
            self._sheet.write_datetime(at, column, value.to_pydatetime(), self._stamp)
        elif kind == "date":
            if draw < DATE_AS_TEXT:
                self._sheet.write_string(at, column, f"{value:%d.%m.%Y}")
            else:
                day = value.to_pydatetime()
                self._sheet.write_datetime(at, column, day, self._date)
        elif kind == "money":
            if draw < AMOUNT_AS_TEXT:
                text = grouped(round(value * 100), "'", ".")
                self._sheet.write_string(at, column, text)
            else:
                self._sheet.write_number(at, column, float(value), self._money)
        elif draw < NUMBER_AS_TEXT:
            self._sheet.write_string(at, column, str(int(value)))
        else:
            self._sheet.write_number(at, column, int(value))

    def _key(self, at: int, column: int, digits: int, value: str, draw: float) -> None:
        """Write a number with leading zeros as text, or as a padded number."""
        if draw < 0.3 and value.isdigit() and len(value) == digits:
            self._sheet.write_number(at, column, int(value), self._padded[digits])
        else:
            self._sheet.write_string(at, column, value)


def book_export(name: str, claims: pd.DataFrame, seed: int, day: dt.date) -> Export:
    """Write the workbook.

    Parameters
    ----------
    name : str
        File name, ``.xlsx``.
    claims : DataFrame
        Canonical claims, in the order of the sheet.
    seed : int
        Seed of the world.
    day : date
        The day of the export: the workbook's own date, so that its bytes do
        not depend on the clock.
    """
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    book.set_properties({"created": dt.datetime(day.year, day.month, day.day)})
    cover = book.add_worksheet("Deckblatt")
    cover.write_string(0, 0, "Ravelmoor Cargo Cycles, Niederlassung Schweiz")
    cover.write_string(1, 0, f"Gewährleistungsgesuche, Stand {day:%d.%m.%Y}")
    sheet = book.add_worksheet(SHEET)
    sheet.write_string(0, 0, "Gewährleistungsgesuche Schweiz")
    sheet.write_string(2, 0, "Beträge in CHF, ohne MWST")
    for column, header in enumerate(COLUMNS.values()):
        sheet.write_string(HEADER_ROW - 1, column, header)
    writer = _Writer(book, sheet, Draws(seed, f"cells {name}"), len(claims))
    rows = list(zip(*(claims[field] for field in COLUMNS), strict=True))
    end, rejected = _write_rows(writer, rows)
    sheet.write_string(end + 1, 0, "Total")
    amounts = list(COLUMNS).index("amount_requested")
    total = float(np.round(claims["amount_requested"].sum(), 2))
    sheet.write_number(end + 1, amounts, total)
    book.close()
    written = len(rows) + len(rejected)
    truth = FileTruth(
        file=name,
        kind="claims",
        rows_read=written,
        rejected=tuple(rejected),
        # everything but the header and the rows, down to the total
        skipped_lines=end + 2 - 1 - written,
    )
    return Export(
        name=name,
        content=stream.getvalue(),
        truths=(truth,),
        blocks=(book_block(),),
    )


def _write_rows(
    writer: _Writer, rows: Sequence[Sequence[Any]]
) -> tuple[int, list[RowTruth]]:
    """Write the claims, two damaged copies among them, with blank rows between.

    Returns the next free row, counted from 0, and the copies.
    """
    at = HEADER_ROW
    rejected = []
    damaged = {len(rows) // 3: "reported_on", len(rows) // 2: "claim_no"}
    for index, values in enumerate(rows):
        if index and index % BLANK_EVERY == 0:
            at += 1
        writer.row(at, index, values)
        at += 1
        if index not in damaged:
            continue
        copy = list(values)
        if damaged[index] == "claim_no":
            copy[0] = None
        else:
            copy[0], copy[1] = f"9{copy[0][1:]}", "31.02.2024"
        writer.row(at, index, copy)
        at += 1
        rejected.append(RowTruth(at, damaged[index], "missing or no such day"))
    return at, rejected


def book_block() -> str:
    """Return the source block that reads the workbook."""
    return source_block(
        name="branch-ch",
        files="claims_ch*.xlsx",
        kind="claims",
        options={
            "sheet": SHEET,
            "header_row": HEADER_ROW,
            "date_format": "dd.mm.yyyy",
            "decimal": ".",
        },
        columns={header: field for field, header in COLUMNS.items()},
        values={
            "status": {theirs: ours for ours, theirs in STATUS.items()},
            "goodwill": {theirs: ours for ours, theirs in GOODWILL.items()},
        },
    )
