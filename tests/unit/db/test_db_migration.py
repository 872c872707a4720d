"""A warehouse of the first version is brought up to date by the next load."""

from __future__ import annotations

from pathlib import Path

import duckdb

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
