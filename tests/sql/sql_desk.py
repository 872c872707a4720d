"""Run one SQL file on rows given here, without the rest of claimlens."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import duckdb

QUERIES = Path(__file__).resolve().parents[2] / "queries"


class Desk:
    """A database in memory and the files of ``queries/``."""

    def __init__(self) -> None:
        self.connection = duckdb.connect(":memory:")

    def given(self, table: str, columns: str, *rows: tuple[object, ...]) -> None:
        """Make a table: ``columns`` as in SQL, then its rows."""
        self.connection.execute(f"create or replace table {table} ({columns})")
        for row in rows:
            marks = ", ".join("?" for _ in row)
            self.connection.execute(f"insert into {table} values ({marks})", row)

    def run(
        self, script: str, parameters: Mapping[str, object] | None = None
    ) -> list[tuple[object, ...]]:
        """Run a file; return the rows of its last statement."""
        text = (QUERIES / f"{script}.sql").read_text(encoding="utf-8")
        rows: list[tuple[object, ...]] = []
        for statement in duckdb.extract_statements(text):
            names = statement.named_parameters
            given = {name: (parameters or {})[name] for name in names}
            rows = self.connection.execute(statement.query, given).fetchall()
        return rows

    def rows(self, sql: str) -> list[tuple[object, ...]]:
        """Return the rows of a question."""
        return self.connection.execute(sql).fetchall()

    def columns(self, table: str) -> dict[str, str]:
        """Return column names and types of a table or view."""
        return {row[0]: row[1] for row in self.rows(f"describe from {table}")}
