"""One table in a file beside the warehouse, kept because it takes long to count."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import duckdb
import pandas as pd

from claimlens.db.engine import ENGINE_CONFIG
from claimlens.db.files import log_of
from claimlens.db.sql import quote_identifier
from claimlens.handover import draft_beside

__all__ = ["attach_kept", "keep_rows", "kept_key", "show_kept"]


def keep_rows(path: Path, key: str, rows: pd.DataFrame) -> None:
    """Write rows into a file of their own; where that fails there is none.

    Parameters
    ----------
    path : Path
        Replaced whole or not at all; its folder is made.
    key : str
        What the rows rest on.
    rows : pandas.DataFrame
        Any number of them.
    """
    draft = draft_beside(path)
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        with duckdb.connect(str(draft), config=ENGINE_CONFIG) as connection:
            connection.execute(
                "create table kept_key as select $key as key", {"key": key}
            )
            connection.register("handed_in", rows)
            connection.execute("create table kept_rows as select * from handed_in")
        draft.replace(path)
    except (duckdb.Error, OSError):
        # nothing rests on it: the rows are counted again the next time
        for file in (draft, log_of(draft)):
            with suppress(OSError):
                file.unlink(missing_ok=True)


def attach_kept(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Let a connection read kept rows, if the file is there and sound.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        May still open files.
    path : Path
        From `keep_rows`.
    """
    quoted = str(path).replace("'", "''")
    # a damaged file is as good as none
    with suppress(duckdb.Error, OSError):
        if path.exists():
            connection.execute(f"attach '{quoted}' as kept (read_only)")


def kept_key(connection: duckdb.DuckDBPyConnection) -> str:
    """Return what the attached rows rest on; empty where there are none."""
    try:
        rows = connection.execute("select key from kept.kept_key").fetchall()
    except duckdb.Error:
        return ""
    return str(rows[0][0]) if rows else ""


def show_kept(connection: duckdb.DuckDBPyConnection, name: str) -> None:
    """Give the attached rows the name of the table that they stand for."""
    quoted = quote_identifier(name, frozenset((name,)))
    connection.execute(f"create or replace temp view {quoted} as from kept.kept_rows")
