"""Workbooks, JSON and Parquet, with the place of every row."""

from __future__ import annotations

import json
import random
import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import duckdb
import openpyxl
import xlwt
from export_claims import Row, words
from export_forms import DATES, Style, total_cells
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P


@dataclass
class Cell:
    """A workbook cell: a value, and a number format where it has one."""

    value: object
    form: str = ""


def book_cell(rng: random.Random, name: str, row: Row, style: Style) -> Cell:
    """Choose how a value stands in a workbook: true, or as text."""
    value = row.values.get("status_text" if name == "status" else name)
    true = rng.random()
    cell = Cell(style.text(name, row))
    if value is None:
        cell = Cell(None)
    elif isinstance(value, datetime):
        cell = Cell(value, "yyyy-mm-dd hh:mm")
    elif isinstance(value, date) and true < 0.7:
        cell = Cell(value, "yyyy-mm-dd")
    elif isinstance(value, Decimal) and true < 0.6:
        cell = Cell(float(value), "0.00")
    elif name == "serial" and str(value).isdigit() and true < 0.3:
        cell = Cell(int(str(value)), "00000000")
    elif isinstance(value, int) and true < 0.8:
        cell = Cell(value)
    return cell


def book_grid(
    rng: random.Random,
    rows: list[Row],
    headers: dict[str, str],
    style: Style,
    unseen: bool,
) -> tuple[list[list[Cell]], int]:
    """Lay out the data sheet and number the rows; return it and its lines skipped."""
    grid: list[list[Cell]] = [
        [Cell(rng.choice(words(style.language, "title", unseen=unseen)))]
    ]
    grid += [
        [Cell("Ostrova Mobil"), Cell(None), Cell(date(2024, 6, 30), "yyyy-mm-dd")],
        [],
    ]
    skipped = 3
    repeats = rng.random() < 0.3
    offset = rng.choice([0, 1])
    pad = [Cell(None)] * offset
    broken = [
        h.replace(" ", "\n", 1) if rng.random() < 0.2 else h for h in headers.values()
    ]
    grid.append(pad + [Cell(word) for word in broken])
    for row in rows:
        grid.append(pad + [book_cell(rng, name, row, style) for name in headers])
        row.number = len(grid)
        if rng.random() < 0.01:
            grid.append([])
            skipped += 1
        if repeats and row.number % 97 == 0:
            grid.append(pad + [Cell(word) for word in broken])
            skipped += 1
    total = total_cells(rng, headers, style, rows, unseen)
    grid.append(pad + [Cell(text or None) for text in total])
    return grid, skipped + 1


def write_book(path: Path, sheets: dict[str, list[list[Cell]]]) -> None:
    """Write the sheets as .xlsx, .xls or .ods."""
    {".xlsx": write_xlsx, ".xls": write_xls, ".ods": write_ods}[path.suffix](
        path, sheets
    )


def write_xlsx(path: Path, sheets: dict[str, list[list[Cell]]]) -> None:
    """Write an Office Open XML workbook."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, grid in sheets.items():
        sheet = book.create_sheet(name)
        for r, line in enumerate(grid, 1):
            for c, cell in enumerate(line, 1):
                if cell.value is not None:
                    target = sheet.cell(r, c, cell.value)
                    target.number_format = cell.form or (
                        "@" if isinstance(cell.value, str) else "General"
                    )
    book.save(path)


def write_xls(path: Path, sheets: dict[str, list[list[Cell]]]) -> None:
    """Write a BIFF workbook (zero-padded numbers become text)."""
    book = xlwt.Workbook()
    styles = {
        form: xlwt.easyxf(num_format_str=form)
        for form in ("yyyy-mm-dd", "yyyy-mm-dd hh:mm", "0.00")
    }
    for name, grid in sheets.items():
        sheet = book.add_sheet(name)
        for r, line in enumerate(grid):
            for c, cell in enumerate(line):
                value = cell.value
                if cell.form == "00000000":
                    value = f"{value:08d}"
                if value is not None:
                    style = [styles[cell.form]] if cell.form in styles else []
                    sheet.write(r, c, value, *style)
    book.save(str(path))


def write_ods(path: Path, sheets: dict[str, list[list[Cell]]]) -> None:
    """Write an OpenDocument spreadsheet (zero-padded numbers become text)."""

    book = OpenDocumentSpreadsheet()
    for name, grid in sheets.items():
        table = Table(name=name)
        for line in grid:
            record = TableRow()
            for cell in line:
                value = cell.value
                if cell.form == "00000000":
                    value = f"{value:08d}"
                if value is None:
                    record.addElement(TableCell())
                    continue
                if isinstance(value, (date, datetime)):
                    item = TableCell(valuetype="date", datevalue=value.isoformat())
                elif isinstance(value, (int, float)):
                    item = TableCell(valuetype="float", value=str(value))
                else:
                    item = TableCell(valuetype="string")
                item.addElement(P(text=str(value)))
                record.addElement(item)
            if not line:
                record.addElement(TableCell())
            table.addElement(record)
        book.spreadsheet.addElement(table)
    book.save(str(path))


GROUPS = {
    "en": ("unit", "cost", "parts", "claims"),
    "de": ("fahrzeug", "kosten", "teile", "antraege"),
    "fr": ("vehicule", "cout", "pieces", "dossiers"),
    "nl": ("voertuig", "kosten", "onderdelen", "claims"),
    "es": ("vehiculo", "coste", "piezas", "reclamaciones"),
    "it": ("veicolo", "costo", "ricambi", "reclami"),
}
PLAIN_KEYS = {
    "serial": "serial",
    "amount": "total",
    "currency": "currency",
    "reported_on": "reported",
    "failed_on": "failed",
    "claim_no": "claim_no",
    "cost_parts": "parts",
    "cost_labour": "labour",
    "cost_freight": "freight",
}


def slug(header: str, camel: bool) -> str:
    """Turn a header into a JSON key."""
    text = (
        header.replace("N.º", "num")
        .replace("Nº", "num")
        .replace("N°", "num")
        .replace("#", "no")
    )
    text = (
        text.replace("ß", "ss")
        .replace("ä", "ae")
        .replace("ö", "oe")
        .replace("ü", "ue")
        .replace("œ", "oe")
    )
    text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    parts = re.findall(r"[a-z0-9]+", text.replace("%", " pct").lower())
    return (
        parts[0] + "".join(p.title() for p in parts[1:]) if camel else "_".join(parts)
    )


def json_record(
    row: Row,
    headers: dict[str, str],
    keys: dict[str, str],
    style: Style,
    groups: tuple[str, ...],
) -> dict[str, object]:
    """Nest one claim: unit and cost as objects, parts as a list."""
    unit, cost, parts, _ = groups
    record: dict[str, object] = {}
    nested: dict[str, dict[str, object]] = {unit: {}, cost: {}}
    for name in headers:
        value = row.values.get("status_text" if name == "status" else name)
        if isinstance(value, Decimal):
            value = float(value)
        elif isinstance(value, (date, tuple)):
            value = style.text(name, row)
        if name in ("serial", "model", "model_year", "usage"):
            nested[unit][keys[name]] = value
        elif name in ("amount", "currency") or name.startswith("cost_"):
            nested[cost][keys[name]] = value
        else:
            record[keys[name]] = value
    record.update(nested)
    record[parts] = [
        {"no": f"P-{n}0", "qty": n} for n in range(int(str(row.values["quantity"])) % 3)
    ]
    return record


def write_json(
    rng: random.Random,
    path: Path,
    rows: list[Row],
    headers: dict[str, str],
    style: Style,
    *,
    lines: bool,
    plain: bool,
) -> int:
    """Write JSON Lines, or one object holding an array; return the blank lines."""
    camel = rng.random() < 0.4
    keys = {name: slug(header, camel) for name, header in headers.items()}
    if plain:
        keys.update({name: key for name, key in PLAIN_KEYS.items() if name in keys})
    groups = GROUPS[style.language]
    if not lines:
        records = [json_record(row, headers, keys, style, groups) for row in rows]
        for number, row in enumerate(rows, 1):
            row.number = number
        whole: object = {
            "exported": "2024-06-30T08:00:00Z",
            "source": "Ostrova Mobil",
            groups[3]: records,
        }
        if rng.random() < 0.4:
            whole = records
        path.write_text(
            json.dumps(whole, ensure_ascii=rng.random() < 0.5, indent=1),
            encoding="utf-8",
        )
        return 0
    sound = [i for i, row in enumerate(rows) if row.verdict == "accept"]
    cut = set(rng.sample(sound, 2))
    closed = {row.values["claim_no"] for row in rows if row.verdict == "superseded"}
    texts: list[str] = []
    blanks = 0
    for index, row in enumerate(rows):
        text = json.dumps(
            json_record(row, headers, keys, style, groups), ensure_ascii=False
        )
        if index in cut and row.values["claim_no"] not in closed:
            text = text[: len(text) // 2]
            row.verdict, row.why = "bad", "cut short"
        texts.append(text)
        row.number = len(texts)
        if rng.random() < 0.01:
            texts.append("")
            blanks += 1
    path.write_text("\n".join(texts) + "\n", encoding="utf-8")
    return blanks


def write_parquet(
    path: Path, rows: list[Row], headers: dict[str, str], style: Style
) -> None:
    """Write typed columns; what the types can't hold is made null or cut."""
    types = dict.fromkeys(headers, "varchar")
    types.update({name: "date" for name in headers if name in (*DATES, "junk_date")})
    types.update(
        {n: "decimal(12,2)" for n in headers if n == "amount" or n.startswith("cost_")}
    )
    types.update(
        {n: "integer" for n in headers if n in ("model_year", "quantity", "usage")}
    )
    if "updated_at" in types:
        types["updated_at"] = "timestamp"
    with duckdb.connect() as connection:
        names = ", ".join(f'"{headers[n]}" {kind}' for n, kind in types.items())
        connection.execute(f"create table t ({names})")
        marks = ", ".join("?" for _ in headers)
        values = []
        for number, row in enumerate(rows, 1):
            row.number = number
            values.append(
                [row.values.get("status_text" if n == "status" else n) for n in headers]
            )
        connection.executemany(f"insert into t values ({marks})", values)
        connection.execute(f"copy t to '{path}' (format parquet)")
