"""The database room: the only one that knows DuckDB."""

from __future__ import annotations

from claimlens.db.beside import keep_rows
from claimlens.db.session import Session, read_warehouse, write_warehouse

__all__ = ["Session", "keep_rows", "read_warehouse", "write_warehouse"]
