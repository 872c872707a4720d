"""The database room: the only one that knows DuckDB."""

from __future__ import annotations

from claimlens.db.session import Session, read_warehouse, write_warehouse

__all__ = ["Session", "read_warehouse", "write_warehouse"]
