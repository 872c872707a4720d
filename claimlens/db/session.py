"""Open the warehouse: readers on the whole file, one writer on a copy beside it.

DuckDB lets nobody read while another process writes. So a writer copies the
file, works on the copy, and swaps it in by one rename: a kill leaves the old
file whole, and readers keep the file they opened.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeAlias

import duckdb
import pandas as pd

from claimlens.db.beside import attach_kept, kept_key, show_kept
from claimlens.db.engine import ENGINE_CONFIG
from claimlens.db.files import (
    disk_faults_explained,
    draft_of,
    engine_faults_explained,
    make_draft,
    put_in_place,
    reason_of,
    remove_draft,
    writers_lock,
)
from claimlens.db.rebuild import rebuild
from claimlens.db.schema import check_version, ensure_schema, fill_in_older
from claimlens.db.sql import load_script, quote_identifier
from claimlens.errors import LockedError, QueryError, WarehouseError

__all__ = [
    "Session",
    "read_warehouse",
    "write_warehouse",
]

Parameters: TypeAlias = Mapping[str, object]


class Session:
    """One connection that runs the shipped SQL files, and nothing else.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        Open; closed by whoever opened it.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self._connection = connection
        self.changed = False
        #: whether the file is to be written anew, without what was deleted from it
        self.compact = False

    def run(self, script: str, parameters: Parameters | None = None) -> None:
        """Run every statement of ``queries/<script>.sql``.

        Parameters
        ----------
        script : str
            Name below ``queries/`` without ending.
        parameters : mapping, optional
            Exactly the named parameters that the file takes.

        Raises
        ------
        QueryError
            If names are missing or left over, or the engine refuses a statement.
        """
        self._execute(script, parameters or {})

    def frame(self, script: str, parameters: Parameters | None = None) -> pd.DataFrame:
        """Run a script and return the rows of its last statement.

        Parameters
        ----------
        script : str
            Name below ``queries/`` without ending.
        parameters : mapping, optional
            Exactly the named parameters that the file takes.

        Returns
        -------
        pandas.DataFrame
            Small: counts, or the rows of one question.
        """
        self._execute(script, parameters or {})
        return self._connection.df()

    def _execute(self, name: str, parameters: Parameters) -> None:
        script = load_script(name)
        if script.parameters != set(parameters):
            raise QueryError(
                f"queries/{name}.sql takes {sorted(script.parameters)}; "
                f"got {sorted(parameters)}."
            )
        try:
            for text, names in script.statements:
                self._connection.execute(text, {key: parameters[key] for key in names})
        except (duckdb.IOException, duckdb.OutOfMemoryException):
            raise  # disk or memory, not the SQL; explained where the file is known
        except duckdb.Error as error:
            raise QueryError(f"queries/{name}.sql failed: {error}") from error

    def put(self, table: str, frame: pd.DataFrame) -> None:
        """Make a temporary table of a small frame, replacing one of that name.

        Parameters
        ----------
        table : str
            Name of lower-case letters and underscores.
        frame : pandas.DataFrame
            Its columns become the table's.
        """
        name = quote_identifier(table, frozenset((table,)))
        self._connection.register("handed_in", frame)
        self._connection.execute(
            f"create or replace temp table {name} as select * from handed_in"
        )
        self._connection.unregister("handed_in")

    def append(self, table: str, frame: pd.DataFrame) -> None:
        """Append a frame to a table by column name.

        Parameters
        ----------
        table : str
            An existing table, temporary or not.
        frame : pandas.DataFrame
            Its columns are a subset of the table's.
        """
        name = quote_identifier(table, frozenset((table,)))
        self._connection.register("handed_in", frame)
        self._connection.execute(f"insert into {name} by name select * from handed_in")
        self._connection.unregister("handed_in")

    def alias(self, name: str, table: str) -> None:
        """Give a warehouse table a temporary second name.

        Generic steps of a load read ``known_rows`` and ``known_versions``
        whatever the kind is.

        Parameters
        ----------
        name, table : str
            The second name and the table it stands for.
        """
        known = frozenset((name, table))
        self._connection.execute(
            f"create or replace temp view {quote_identifier(name, known)} as "
            f"from {quote_identifier(table, known)}"
        )

    def keep_as(self, source: str, name: str) -> None:
        """Make a temporary table of all rows of another one."""
        known = frozenset((source, name))
        self._connection.execute(
            f"create or replace temp table {quote_identifier(name, known)} as "
            f"from {quote_identifier(source, known)}"
        )

    def copy_rows(self, source: str, target: str) -> None:
        """Append all rows of one table to another by column name."""
        known = frozenset((source, target))
        self._connection.execute(
            f"insert into {quote_identifier(target, known)} by name "
            f"from {quote_identifier(source, known)}"
        )

    def delete_keys(self, table: str, keys: str) -> None:
        """Delete the rows of ``table`` whose ``row_key`` stands in ``keys``."""
        known = frozenset((table, keys))
        self._connection.execute(
            f"delete from {quote_identifier(table, known)} where row_key in "
            f"(select row_key from {quote_identifier(keys, known)})"
        )

    def delete_places(self, table: str, places: str) -> None:
        """Delete the rows of ``table`` whose row id stands as ``place`` in another."""
        known = frozenset((table, places))
        self._connection.execute(
            f"delete from {quote_identifier(table, known)} where rowid in "
            f"(select place from {quote_identifier(places, known)})"
        )

    def show_kept(self, name: str, key: str) -> bool:
        """Take the rows kept beside the warehouse for a table, if they rest on this.

        Parameters
        ----------
        name : str
            The table that they stand for.
        key : str
            What they must rest on.

        Returns
        -------
        bool
            Whether there were such rows.
        """
        if kept_key(self._connection) != key:
            return False
        show_kept(self._connection, name)
        return True

    def count(self, table: str) -> int:
        """Return the number of rows of a table or view."""
        name = quote_identifier(table, frozenset((table,)))
        # fetchone would leave the result open, and the connection busy
        rows = self._connection.execute(f"select count(*) from {name}").fetchall()
        return int(rows[0][0])

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Take everything inside back if it raises."""
        self._connection.execute("begin")
        try:
            yield
        except BaseException:
            # the engine may have ended the transaction itself
            with suppress(duckdb.Error):
                self._connection.execute("rollback")
            raise
        self._connection.execute("commit")


def _connect(
    path: Path,
    *,
    read_only: bool,
    limits: Mapping[str, str],
    stands_for: Path | None = None,
    kept: Path | None = None,
) -> duckdb.DuckDBPyConnection:
    """Connect, turn DuckDB's complaints into ours, and close the outer doors."""
    named = str(stands_for or path)
    try:
        connection = duckdb.connect(
            str(path), read_only=read_only, config={**ENGINE_CONFIG, **limits}
        )
    except duckdb.IOException as error:
        if "lock" in str(error).lower():
            raise LockedError(
                "Another program holds the warehouse open for writing.",
                source=named,
                remedy="close that program, then try again",
            ) from error
        raise WarehouseError(
            f"The warehouse cannot be opened: {reason_of(error)}",
            source=named,
            remedy="restore it from a backup, or move it away and load again",
        ) from error
    except duckdb.Error as error:
        raise WarehouseError(
            f"The warehouse cannot be read: {reason_of(error)}",
            source=named,
            remedy="restore it from a backup, or move it away and load again",
        ) from error
    # started by `python -m`, duckdb takes itself to be at a prompt, and a long query
    # would write its bar into the CSV or JSON on its way to a pipe
    connection.execute("set enable_progress_bar = false")
    if kept is not None:
        attach_kept(connection, kept)
    connection.execute("set enable_external_access = false")
    connection.execute("set lock_configuration = true")
    return connection


@contextmanager
def read_warehouse(
    path: Path,
    *,
    limits: Mapping[str, str] | None = None,
    kept: Path | None = None,
) -> Iterator[Session]:
    """Open the warehouse for questions.

    Parameters
    ----------
    path : Path
        The warehouse file.
    limits : mapping, optional
        ``memory_limit`` and ``threads`` for the engine.
    kept : Path, optional
        Rows kept beside it: see `claimlens.db.beside.keep_rows`.

    Yields
    ------
    Session
        Cannot change the file; may hold temporary tables.

    Raises
    ------
    WarehouseError
        If there is no file, or it is damaged or of a newer version.
    """
    if not path.exists():
        raise WarehouseError(
            "There is no warehouse yet.",
            source=str(path),
            remedy="load some exports first: claimlens ingest FILE",
        )
    connection = _connect(path, read_only=True, limits=limits or {}, kept=kept)
    try:
        with engine_faults_explained(path, "read"):
            fill_in_older(connection, check_version(connection, str(path)))
            yield Session(connection)
    finally:
        connection.close()


@contextmanager
def write_warehouse(
    path: Path, *, wait: float = 0.0, limits: Mapping[str, str] | None = None
) -> Iterator[Session]:
    """Work on a copy of the warehouse and swap it in when all went well.

    Parameters
    ----------
    path : Path
        The warehouse file; made if it is not there.
    wait : float, default 0
        Seconds to wait for another writer.
    limits : mapping, optional
        ``memory_limit`` and ``threads`` for the engine.

    Yields
    ------
    Session
        On the copy. Set ``session.changed`` where something was written;
        otherwise the copy is thrown away and the file keeps its bytes.

    Raises
    ------
    LockedError
        If another process is writing.
    WarehouseError
        If the file is damaged or of a newer version, or the folder is read-only.
    """
    draft = draft_of(path)
    with writers_lock(path, wait):
        try:
            with disk_faults_explained(path):
                remove_draft(draft)
            if path.exists():
                _refuse_unusable(path)
            with disk_faults_explained(path):
                make_draft(path, draft)
            connection = _connect(
                draft, read_only=False, limits=limits or {}, stands_for=path
            )
            try:
                with engine_faults_explained(path, "written"):
                    made = ensure_schema(connection, str(path))
                    session = Session(connection)
                    yield session
                    worth_keeping = made or session.changed
                    if worth_keeping:
                        connection.execute("checkpoint")
            finally:
                _close(connection)
            if worth_keeping:
                with disk_faults_explained(path):
                    if session.compact:
                        with engine_faults_explained(path, "written"):
                            rebuild(draft)
                    _swap_in(draft, path)
        finally:
            remove_draft(draft)


def _close(connection: duckdb.DuckDBPyConnection) -> None:
    """Close a connection whose last words do not matter any more."""
    # on a full disk closing fails as well, and would hide the first complaint
    with suppress(duckdb.Error):
        connection.close()


def _refuse_unusable(path: Path) -> None:
    """Refuse a file that is damaged, too new, or open for writing elsewhere."""
    with read_warehouse(path):
        pass


def _swap_in(draft: Path, path: Path) -> None:
    """Open the draft once more as a reader would, then rename it."""
    check = _connect(draft, read_only=True, limits={})
    try:
        check_version(check, str(draft))
    finally:
        check.close()
    put_in_place(draft, path)
