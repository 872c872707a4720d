"""A warehouse of the first version is brought up to date by the next load."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import duckdb

from claimlens.analysis.scope import open_known
from claimlens.db import read_warehouse, write_warehouse
from claimlens.db.schema import SCHEMA_VERSION


def test_tables_added_since_the_first_version_are_made(tmp_path: Path) -> None:
    path = tmp_path / "warehouse.duckdb"
    with write_warehouse(path):
        pass
    with duckdb.connect(str(path)) as connection:
        connection.execute("drop table alarms_told")
        connection.execute("drop view part_circles")
        connection.execute("update meta set value = '1' where key = 'schema_version'")
        connection.execute("insert into meta values ('kept', 'yes')")
    with read_warehouse(path) as session:
        assert session.count("classifications") == 0
    with write_warehouse(path):
        pass
    with read_warehouse(path) as session:
        assert session.count("alarms_told") == 0
        assert session.count("part_circles") == 0
    with duckdb.connect(str(path), read_only=True) as connection:
        rows = dict(connection.execute("select key, value from meta").fetchall())
    assert rows == {"schema_version": str(SCHEMA_VERSION), "kept": "yes"}


def test_a_warehouse_without_responses_reads_as_one_that_holds_none(
    tmp_path: Path,
) -> None:
    path = tmp_path / "warehouse.duckdb"
    with write_warehouse(path):
        pass
    with duckdb.connect(str(path)) as connection:
        connection.execute("drop view flags; drop view flags_by_kind")
        connection.execute("drop view responses_now")
        connection.execute("drop table responses_current")
        connection.execute("drop table responses_versions")
        connection.execute("update meta set value = '3' where key = 'schema_version'")
    with read_warehouse(path) as session:
        open_known(session, None)
        assert session.count("responses_known") == 0
    with read_warehouse(path) as session:
        open_known(session, date(2026, 1, 31))
        assert session.count("responses_known") == 0
    with write_warehouse(path):
        pass
    with read_warehouse(path) as session:
        assert session.count("responses_now") == 0
