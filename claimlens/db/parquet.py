"""Parquet in and out, on a connection of its own that touches no warehouse."""

from __future__ import annotations

import glob
import shutil
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb
import pandas as pd

from claimlens.db.engine import ENGINE_CONFIG
from claimlens.errors import QueryError, write_error

__all__ = ["parquet_rows", "parquet_size", "parquet_without", "write_parquet"]


def parquet_size(path: Path) -> tuple[int, int, int]:
    """Return rows, columns and bytes of text of a Parquet file, read in a stream.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    tuple of int
        What `parquet_rows` would hold in memory.

    Raises
    ------
    QueryError
        If the file is no Parquet.
    """
    with _reading(path) as (connection, place):
        found = connection.execute(
            "select count(*), sum(strlen(columns(*)::varchar)) "
            "from read_parquet($path)",
            {"path": place},
        ).fetchall()[0]
    return int(found[0]), len(found) - 1, sum(int(size or 0) for size in found[1:])


@contextmanager
def _reading(path: Path) -> Iterator[tuple[duckdb.DuckDBPyConnection, str]]:
    """Open a connection, and turn what is said of the file into our words."""
    with (
        duckdb.connect(config=ENGINE_CONFIG) as connection,
        TemporaryDirectory() as folder,
    ):
        place = str(path)
        if glob.has_magic(place):
            # the engine would take the name for a pattern, and read other files too
            place = str(Path(folder) / "rows.parquet")
            shutil.copyfile(path, place)
        try:
            yield connection, place
        except duckdb.Error as error:
            raise QueryError(
                f"This is no Parquet file that can be read: "
                f"{str(error).splitlines()[0]}",
                source=str(path),
                remedy="export it again",
            ) from error


def parquet_rows(path: Path) -> pd.DataFrame:
    """Return a Parquet file as text, in file order.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    pandas.DataFrame
        One text column per field; nested values as JSON text.

    Raises
    ------
    QueryError
        If the file is no Parquet.
    """
    with _reading(path) as (connection, place):
        return connection.execute(
            "select columns(*)::varchar from read_parquet($path)", {"path": place}
        ).df()


def parquet_without(
    path: Path, gone: Collection[int], masked: Mapping[str, Mapping[int, str]]
) -> bytes:
    """Return a Parquet file without some rows, the types of its columns kept.

    Parameters
    ----------
    path : Path
        The file.
    gone : collection of int
        Rows to leave out, counted from 0.
    masked : mapping of str to mapping of int to str
        By column and row: the text that stands in the place of another.

    Returns
    -------
    bytes
        The new file.

    Raises
    ------
    QueryError
        If the file is no Parquet, or a column cannot hold its new text.
    """
    with _reading(path) as (connection, place), TemporaryDirectory() as folder:
        target = Path(folder) / "left.parquet"
        connection.execute(
            "create temp table given as select *, "
            "(row_number() over ()) - 1 as claimlens_row from read_parquet($path)",
            {"path": place},
        )
        for name, texts in masked.items():
            quoted = '"' + name.replace('"', '""') + '"'
            connection.executemany(
                f"update given set {quoted} = $1 where claimlens_row = $2",
                [[text, row] for row, text in texts.items()],
            )
        if gone:
            connection.executemany(
                "delete from given where claimlens_row = $1", [[row] for row in gone]
            )
        connection.execute(
            "copy (select * exclude (claimlens_row) from given order by claimlens_row) "
            "to $path (format parquet)",
            {"path": str(target)},
        )
        return target.read_bytes()


def write_parquet(
    frame: pd.DataFrame, path: Path, types: Mapping[str, str] | None = None
) -> None:
    """Write a frame as Parquet.

    Parameters
    ----------
    frame : pandas.DataFrame
        What leaves.
    path : Path
        Target; replaced whole or not at all.
    types : mapping of str to str, optional
        The SQL type of a column that must not depend on what stands in it.

    Raises
    ------
    InputError
        If the folder is not there or cannot be written.
    """
    draft = path.with_name(path.name + ".draft")
    try:
        path.parent.stat()  # the engine does not say that a folder is not there
        with duckdb.connect(config=ENGINE_CONFIG) as connection:
            connection.register("leaving", frame)
            connection.execute(
                f"copy (select {_selected(frame, types or {})} from leaving) "
                "to $path (format parquet)",
                {"path": str(draft)},
            )
        draft.replace(path)
    except (duckdb.IOException, OSError) as error:
        with suppress(OSError):
            draft.unlink(missing_ok=True)
        raise write_error(
            "The file cannot be written",
            error,
            source=str(path),
            remedy="choose a folder that exists and can be written",
        ) from error


def _selected(frame: pd.DataFrame, types: Mapping[str, str]) -> str:
    """Return the columns of a frame for a select, cast where a type is given."""
    quoted = {str(name): '"' + str(name).replace('"', '""') + '"' for name in frame}
    return ", ".join(
        f"{name}::{types[column]} as {name}" if column in types else name
        for column, name in quoted.items()
    )
