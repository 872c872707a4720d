"""Version of the warehouse file, and how it is brought up to date."""

from __future__ import annotations

import duckdb

from claimlens.db.sql import load_script
from claimlens.errors import WarehouseError

__all__ = ["SCHEMA_VERSION", "check_version", "ensure_schema", "fill_in_older"]

SCHEMA_VERSION = 5
# what a reader needs of a warehouse of an earlier version than the first number
_ADDED = (
    (3, "schema/older"),
    (4, "schema/older_responses"),
    (5, "schema/older_erasure"),
)
_SCRIPTS = (
    "schema/tables",
    "schema/review",
    "schema/erasure",
    "schema/views",
    "schema/flags",
)


def check_version(connection: duckdb.DuckDBPyConnection, where: str) -> int:
    """Return the version of a warehouse, or refuse one that is not ours.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        Open on the warehouse file.
    where : str
        Its path, for the message.

    Returns
    -------
    int
        0 for an empty file, else the version of its tables.

    Raises
    ------
    WarehouseError
        If the file is of a newer version, or of another program.
    """
    tables = {row[0] for row in connection.execute("show tables").fetchall()}
    if not tables:
        return 0
    if "meta" not in tables:
        raise WarehouseError(
            "This DuckDB file is no claimlens warehouse: it has no table 'meta'.",
            source=where,
            remedy="move the file away; the next load makes a new warehouse",
        )
    rows = connection.execute(
        "select value from meta where key = 'schema_version'"
    ).fetchall()
    version = int(rows[0][0]) if rows else 0
    if version > SCHEMA_VERSION:
        raise WarehouseError(
            f"The warehouse has schema version {version}; this claimlens reads up to "
            f"version {SCHEMA_VERSION}.",
            source=where,
            remedy="use the newer claimlens that wrote it",
        )
    return version


def fill_in_older(connection: duckdb.DuckDBPyConnection, version: int) -> None:
    """Let a reader find in an older warehouse what came into it later.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        Open for reading.
    version : int
        As ``check_version`` told.
    """
    for since, script in _ADDED:
        if 0 < version < since:
            for text, _ in load_script(script).statements:
                connection.execute(text)


def ensure_schema(connection: duckdb.DuckDBPyConnection, where: str) -> bool:
    """Make the tables and views of this version if they are not there.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        Open for writing.
    where : str
        Path, for messages.

    Returns
    -------
    bool
        True where something was made.
    """
    if check_version(connection, where) == SCHEMA_VERSION:
        return False
    for name in _SCRIPTS:
        for text, _ in load_script(name).statements:
            connection.execute(text)
    connection.execute(
        "insert or replace into meta values ('schema_version', $version)",
        {"version": str(SCHEMA_VERSION)},
    )
    return True
