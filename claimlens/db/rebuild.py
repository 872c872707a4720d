"""Write a warehouse anew, so that nothing of what was deleted stays in its blocks."""

from __future__ import annotations

from pathlib import Path

import duckdb

from claimlens.db.engine import ENGINE_CONFIG
from claimlens.db.files import log_of
from claimlens.db.schema import ensure_schema
from claimlens.db.sql import quote_identifier
from claimlens.errors import WarehouseError

__all__ = ["rebuild"]

_TABLES = (
    "select table_name from duckdb_tables() where database_name = $name "
    "order by table_name"
)


def rebuild(draft: Path) -> None:
    """Copy every row of a closed file into a new one that takes its place.

    The engine keeps deleted rows in free blocks of its file; a new file has only
    the rows that are left.

    Parameters
    ----------
    draft : Path
        A warehouse file of this version, in a folder of its own and open nowhere.

    Raises
    ------
    WarehouseError
        If it holds a table that no warehouse of this version has.
    """
    fresh = draft.with_name(f"{draft.name}.fresh")
    with duckdb.connect(str(fresh), config=ENGINE_CONFIG) as connection:
        connection.execute("set enable_progress_bar = false")
        ensure_schema(connection, str(fresh))
        quoted = str(draft).replace("'", "''")
        connection.execute(f"attach '{quoted}' as old (read_only)")
        (own_name,) = connection.execute("select current_database()").fetchall()[0]
        known = _tables(connection, own_name)
        for name in sorted(_tables(connection, "old")):
            if name not in known:
                raise WarehouseError(
                    f"The warehouse holds a table {name!r} that is not its own.",
                    source=draft.name,
                    remedy="take the table out of the warehouse with any DuckDB "
                    "client, then try again; nothing was changed",
                )
            own = quote_identifier(name, known)
            connection.execute(f"delete from {own}")
            connection.execute(f"insert into {own} by name from old.{own}")
        connection.execute("detach old")
        connection.execute("checkpoint")
    fresh.replace(draft)
    log_of(draft).unlink(missing_ok=True)


def _tables(connection: duckdb.DuckDBPyConnection, database: str) -> frozenset[str]:
    """Return the tables of a database that is attached."""
    rows = connection.execute(_TABLES, {"name": database}).fetchall()
    return frozenset(str(row[0]) for row in rows)
