"""A workspace with files to load, and the warehouse as any client reads it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

import duckdb

from claimlens.start import open_workspace
from claimlens.workspace import Workspace

Row = Mapping[str, object]


class Desk:
    """Write files, load them, look at the warehouse."""

    def __init__(self, folder: Path, settings: str = "") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        (folder / "claimlens.toml").write_text(settings, encoding="utf-8")
        self.workspace: Workspace = open_workspace(folder)

    def write(self, name: str, rows: Iterable[Row]) -> Path:
        """Write records as a comma file."""
        listed = list(rows)
        headers = list(dict.fromkeys(key for row in listed for key in row))
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(headers)
        for row in listed:
            cells = [row.get(key) for key in headers]
            writer.writerow(["" if cell is None else cell for cell in cells])
        path = self.folder / name
        path.write_text(out.getvalue(), encoding="utf-8")
        return path

    def load(
        self, name: str, rows: Iterable[Row], known_on: date | None = None
    ) -> dict[str, object]:
        """Write and load one file; return its account."""
        return self.account(self.write(name, rows), known_on)

    def account(self, path: Path, known_on: date | None = None) -> dict[str, object]:
        """Load one file; return its account."""
        table = self.workspace.ingest(path, known_on=known_on)
        (record,) = table.to_dict("records")
        return {str(key): value for key, value in record.items()}

    def query(self, sql: str) -> list[tuple[object, ...]]:
        """Ask the warehouse as any DuckDB client would."""
        path = str(self.workspace.warehouse)
        with duckdb.connect(path, read_only=True) as connection:
            return connection.execute(sql).fetchall()

    def claims(self, *columns: str) -> dict[str, tuple[object, ...]]:
        """Return the named columns of ``claims_now`` by claim number."""
        named = ", ".join(columns)
        rows = self.query(f"select claim_no, {named} from claims_now order by all")
        return {str(row[0]): row[1:] for row in rows}

    def bytes(self) -> bytes:
        """Return the warehouse file."""
        return self.workspace.warehouse.read_bytes()


def outcome(account: Mapping[str, object]) -> dict[str, object]:
    """Return what became of the rows, zeros left out."""
    names = ("inserted", "updated", "unchanged", "superseded", "rejected")
    found = {name: account[name] for name in names if account[name]}
    assert account["rows_read"] == sum(int(str(n)) for n in found.values())
    return found
