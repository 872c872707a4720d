"""A small workspace whose claims go to a reviewer and come back."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import duckdb
import openpyxl

from claimlens.analysis.evidence import terms_of
from claimlens.classify.terms import Terms
from claimlens.settings import Settings
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

HEADER_ROW = 2
DAY = date(2026, 5, 4)

TEXTS = (
    "battery does not charge, pack dead",
    "charger makes no light",
    "display shows nothing",
    "brake lever goes to the grip, no braking at all",
    "spokes broken on the rear wheel",
    "smoke from the controller",
    "saddle torn",
    "it is somehow strange",
)


def claims(n: int = 40) -> list[dict[str, object]]:
    """Return claims of every kind, costs in two currencies."""
    return [
        {
            "claim_no": f"C-{number:03d}",
            "reported_on": f"2026-0{1 + number % 4}-1{number % 10}",
            "serial": f"S-{number:03d}",
            "model": "Trike A" if number % 2 else "Scooter B",
            "status": "closed",
            "narrative": TEXTS[number % len(TEXTS)],
            "cost_total": 20 + number if number % 9 else 900 + number,
            "currency": "EUR" if number % 3 else "CHF",
        }
        for number in range(1, n + 1)
    ]


@cache
def _shipped_terms() -> Terms:
    return terms_of(Settings(), Path())


class ReviewDesk:
    """Write files, hand claims out, fill workbooks, look at the labels."""

    def __init__(self, folder: Path, settings: str = "") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        (folder / "claimlens.toml").write_text(settings, encoding="utf-8")
        self.workspace: Workspace = open_workspace(folder)
        if not settings:
            # the shipped terms are compiled once for all desks
            self.workspace.__dict__["_terms"] = _shipped_terms()

    def reopen(self, settings: str) -> None:
        """Open the workspace with other settings."""
        (self.folder / "claimlens.toml").write_text(settings, encoding="utf-8")
        self.workspace = open_workspace(self.folder)

    def load(self, name: str, rows: Iterable[Mapping[str, object]]) -> None:
        """Write and load one comma file."""
        listed = list(rows)
        out = io.StringIO()
        writer = csv.DictWriter(out, list(listed[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(listed)
        path = self.folder / name
        path.write_text(out.getvalue(), encoding="utf-8")
        self.workspace.ingest(path)

    def export(self, name: str = "review.xlsx", **options: Any) -> Path:
        """Hand claims out, of all months."""
        path = self.folder / name
        self.workspace.review_export(path, **{"as_of": "2026-04-30", **options})
        return path

    def query(self, sql: str) -> list[tuple[Any, ...]]:
        """Ask the warehouse as any DuckDB client would."""
        path = str(self.workspace.warehouse)
        with duckdb.connect(path, read_only=True) as connection:
            return connection.execute(sql).fetchall()

    def bytes(self) -> bytes:
        """Return the warehouse file."""
        return self.workspace.warehouse.read_bytes()


class Book:
    """A workbook in the hands of a reviewer."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.book = openpyxl.load_workbook(path)
        self.page = self.book["review"]
        self.columns = {
            cell.value: cell.column for cell in self.page[HEADER_ROW] if cell.value
        }

    def rows(self) -> dict[str, int]:
        """Return the row of each claim."""
        return {
            str(self.page.cell(row, 1).value): row
            for row in range(HEADER_ROW + 1, self.page.max_row + 1)
        }

    def cell(self, row: int, name: str) -> Any:
        """Return a cell by the header of its column."""
        return self.page.cell(row, self.columns[name])

    def answer(self, row: int, component: str = "motor", **others: object) -> None:
        """Fill a row; reviewer and day are filled unless told otherwise."""
        told = {"component": component, "reviewer": "Ann", "reviewed_on": DAY}
        for name, value in {**told, **others}.items():
            self.cell(row, name).value = value

    def save(self, name: str = "filled.xlsx") -> Path:
        """Save under another name."""
        path = self.path.with_name(name)
        self.book.save(path)
        return path
