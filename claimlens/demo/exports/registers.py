"""The other exports: units, parts, changes, inspections, fitted parts."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.demo.exports.lines import Lines, date_words, source_block
from claimlens.demo.exports.model import Export, FileTruth, RowTruth
from claimlens.tables import TABLES

__all__ = ["Register", "register_block", "register_export", "registers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """How one of these files is written.

    Parameters
    ----------
    damage : tuple of (field, text)
        Each makes a copy of some row with that field replaced; the copy must
        be rejected. ``"*"`` cuts the row short instead.
    key : str
        Gets an ending in the copies, so that no real row is touched.
    """

    source: str
    file: str
    kind: str
    columns: dict[str, str]
    delimiter: str
    encoding: str
    date: str = "%Y-%m-%d"
    date_format: str = "yyyy-mm-dd"
    decimal: str = "."
    titles: tuple[str, ...] = ()
    values: dict[str, dict[str, str]] | None = None
    damage: tuple[tuple[str, str], ...] = ()
    key: str = ""


FINDINGS = {
    "confirmed fault": "Fehler bestätigt",
    "no fault found": "kein Fehler gefunden",
    "misuse": "unsachgemäßer Gebrauch",
    "transport damage": "Transportschaden",
    "other": "sonstiges",
}

UNITS = Register(
    source="unit-register",
    file="unit_register.csv.gz",
    kind="units",
    columns={
        "serial": "Frame number",
        "model": "Model",
        "model_year": "Model year",
        "generation": "Series",
        "build_date": "Built on",
        "build_lot": "Production lot",
        "plant": "Plant",
        "ship_date": "Shipped on",
        "in_service_date": "Sold to owner on",
        "region": "Country",
        "dealer": "Dealer code",
        "retired_on": "Scrapped on",
    },
    delimiter=",",
    encoding="utf-8-sig",
    damage=(("model", ""), ("model_year", "20x3"), ("serial", "")),
    key="serial",
)
PARTS = Register(
    source="parts-list",
    file="parts_list.txt",
    kind="parts",
    columns={
        "part_no": "PART NO",
        "description": "DESCRIPTION",
        "component": "ASSEMBLY",
        "supplier": "SUPPLIER",
        "generation": "SERIES",
        "superseded_by": "REPLACED BY",
        "fits_model": "FITS MODEL",
        "fits_from_year": "FROM YEAR",
        "fits_to_year": "TO YEAR",
        "unit_cost": "UNIT COST",
        "currency": "CUR",
        "lead_time_days": "LEAD TIME DAYS",
    },
    delimiter="|",
    encoding="utf-8",
    titles=("PARTS LIST RAVELMOOR CARGO CYCLES",),
)
CHANGES = Register(
    source="change-list",
    file="engineering_changes.csv",
    kind="changes",
    columns={
        "change_no": "Change no.",
        "component": "Component",
        "description": "What changes",
        "effective_build_date": "Built from",
    },
    delimiter=";",
    encoding="utf-8",
)
RETROFITS = Register(
    source="field-changes",
    file="field_changes.csv",
    kind="unit_changes",
    columns={
        "serial": "Frame number",
        "change_no": "Change no.",
        "done_on": "Done on",
    },
    delimiter=";",
    encoding="utf-8",
)
INSPECTIONS = Register(
    source="inspections",
    file="pruefbefunde.csv",
    kind="findings",
    columns={
        "claim_no": "Antragsnr.",
        "inspected_on": "Prüfdatum",
        "part_no": "Teilenr.",
        "finding": "Befund",
        "component": "Baugruppe",
        "failure_mode": "Fehlerart",
        "note": "Bemerkung",
    },
    delimiter=";",
    encoding="latin-1",
    date="%d.%m.%Y",
    date_format="dd.mm.yyyy",
    decimal=",",
    titles=("Prüfbefunde Rückteile",),
    values={"finding": FINDINGS},
    damage=(("finding", ""), ("*", "")),
    key="claim_no",
)
FITTED = Register(
    source="build-records",
    file="build_records.csv.gz",
    kind="fitted_parts",
    columns={
        "serial": "Frame number",
        "component": "Component",
        "part_no": "Part number",
        "supplier": "Supplier",
        "lot": "Lot",
        "fitted_on": "Fitted on",
    },
    delimiter=",",
    encoding="utf-8",
)
RESPONSES = Register(
    source="supplier-answers",
    file="lieferanten_antworten.csv",
    kind="responses",
    columns={
        "supplier": "Lieferant",
        "question_no": "Anfragenr.",
        "component": "Baugruppe",
        "asked_on": "gefragt am",
        "due_on": "fällig am",
        "answered_on": "beantwortet am",
        "answer": "Antwort",
        "charged_on": "belastet am",
        "amount_charged": "belastet",
        "amount_accepted": "anerkannt",
        "amount_received": "erhalten",
        "currency": "Währung",
    },
    delimiter=";",
    encoding="utf-8",
    date="%d.%m.%Y",
    date_format="dd.mm.yyyy",
    decimal=",",
)


def registers() -> tuple[Register, ...]:
    """Return how each of these files is written."""
    return (UNITS, PARTS, CHANGES, RETROFITS, INSPECTIONS, FITTED, RESPONSES)


def _rows(form: Register, frame: pd.DataFrame) -> list[list[str]]:
    table = TABLES[form.kind]
    columns = []
    for name in form.columns:
        values = frame[name]
        if table.field(name).type == "date":
            columns.append(date_words(values, form.date))
            continue
        words = (form.values or {}).get(name, {})
        money = table.field(name).type == "money"
        columns.append(
            [
                ""
                if pd.isna(v)
                else f"{v:.2f}".replace(".", form.decimal)
                if money
                else words.get(str(v), str(v))
                for v in values
            ]
        )
    return [list(row) for row in zip(*columns, strict=True)]


def register_block(form: Register) -> str:
    """Return the source block that reads the file."""
    options: dict[str, str | int] = {
        "encoding": form.encoding,
        "delimiter": form.delimiter,
        "header_row": len(form.titles) + 1,
        "date_format": form.date_format,
        "decimal": form.decimal,
    }
    words = form.values or {}
    return source_block(
        name=form.source,
        files=form.file.removesuffix(".gz").replace(".", "*.", 1),
        kind=form.kind,
        options=options,
        columns={header: field for field, header in form.columns.items()},
        values={
            field: {theirs: ours for ours, theirs in mapping.items()}
            for field, mapping in words.items()
        },
    )


def register_export(form: Register, frame: pd.DataFrame) -> Export:
    """Write one register with its dirty rows.

    Parameters
    ----------
    form : Register
        How it is written.
    frame : DataFrame
        Canonical rows.
    """
    lines = Lines(form.delimiter)
    for title in form.titles:
        lines.skip(title)
    lines.header(list(form.columns.values()))
    rows = _rows(form, frame)
    names = list(form.columns)
    count = len(form.damage) + 1
    places = {len(rows) * (k + 1) // count: d for k, d in enumerate(form.damage)}
    rejected = []
    for position, row in enumerate(rows):
        lines.row(row)
        if position not in places:
            continue
        name, text = places[position]
        copy = list(row)
        copy[names.index(form.key)] += "X"
        if name == "*":
            start = lines.raw_row(lines.join(copy[:3]))
            rejected.append(RowTruth(start, None, "cut short"))
        else:
            copy[names.index(name)] = text
            rejected.append(RowTruth(lines.row(copy), name, "missing or unreadable"))
    truth = FileTruth(
        file=form.file,
        kind=form.kind,
        rows_read=lines.rows,
        rejected=tuple(rejected),
        skipped_lines=lines.skipped,
    )
    return Export(
        name=form.file,
        content=lines.encode(form.encoding),
        truths=(truth,),
        blocks=(register_block(form),),
    )
