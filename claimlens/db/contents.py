"""A warehouse file as a whole: copied while others use it, and what it holds."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import duckdb

from claimlens.db.engine import ENGINE_CONFIG
from claimlens.db.files import (
    disk_faults_explained,
    engine_faults_explained,
    log_of,
    writers_lock,
)
from claimlens.db.schema import check_version
from claimlens.db.session import Session, _connect
from claimlens.errors import WarehouseError

__all__ = ["Contents", "contents_of", "whole_copy"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a warehouse file holds.

    Parameters
    ----------
    version : int
        Of its tables; 0 for none.
    tables : mapping of str to (int, str)
        Rows of each table, and a digest of what they hold, whatever their order.
    """

    version: int
    tables: Mapping[str, tuple[int, str]]


def whole_copy(path: Path, target: Path, *, wait: float) -> None:
    """Copy a warehouse while no other process writes to it.

    Parameters
    ----------
    path : Path
        The warehouse file.
    target : Path
        A file that is not there yet, in a folder that only its owner may enter.
    wait : float
        Seconds to wait for a writer.

    Raises
    ------
    LockedError
        If another process is writing.
    WarehouseError
        If there is no warehouse, or it cannot be read.
    """
    if not path.exists():
        raise WarehouseError(
            "There is no warehouse yet.",
            source=str(path),
            remedy="load some exports first: claimlens ingest FILE",
        )
    with writers_lock(path, wait), disk_faults_explained(path):
        shutil.copyfile(path, target)
        has_log = log_of(path).exists()
        if has_log:
            shutil.copyfile(log_of(path), log_of(target))
    if has_log:
        # what a dead client left in the log belongs to the one file
        with (
            engine_faults_explained(path, "read"),
            duckdb.connect(str(target), config=ENGINE_CONFIG) as connection,
        ):
            connection.execute("checkpoint")


def contents_of(
    path: Path,
    *,
    named: str | None = None,
    limits: Mapping[str, str] | None = None,
) -> Contents:
    """Count and digest every table of a warehouse file.

    Parameters
    ----------
    path : Path
        The file; read only.
    named : str, optional
        What messages call it.
    limits : mapping, optional
        Of the engine.

    Raises
    ------
    WarehouseError
        If it is damaged, of a newer version, or no warehouse.
    """
    connection = _connect(
        path, read_only=True, limits=limits or {}, stands_for=Path(named or path)
    )
    try:
        with engine_faults_explained(path, "read"):
            version = check_version(connection, named or str(path))
            session = Session(connection)
            tables = {}
            for name in session.frame("checks/tables_kept")["table_name"]:
                session.alias("digested_rows", str(name))
                row = session.frame("checks/rows_digest").iloc[0]
                tables[str(name)] = (int(row["n_rows"]), str(row["digest"]))
    finally:
        connection.close()
    return Contents(version=version, tables=tables)
