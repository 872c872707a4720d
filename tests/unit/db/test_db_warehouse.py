"""The warehouse file: made, read, copied, swapped, refused in words."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from claimlens.db import Session, read_warehouse, write_warehouse
from claimlens.db.parquet import parquet_rows, write_parquet
from claimlens.db.schema import SCHEMA_VERSION
from claimlens.db.sql import load_script, quote_identifier
from claimlens.errors import LockedError, QueryError, WarehouseError


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a warehouse with its tables and no rows."""
    with write_warehouse(tmp_path / "warehouse.duckdb"):
        pass
    return tmp_path / "warehouse.duckdb"


def add_meta(path: Path, key: str, value: str) -> None:
    with write_warehouse(path) as session:
        session.append("meta", pd.DataFrame({"key": [key], "value": [value]}))
        session.changed = True


def _append_and_fail(session: Session) -> None:
    session.append("meta", pd.DataFrame({"key": ["x"], "value": ["y"]}))
    session.changed = True
    raise ZeroDivisionError


def meta(path: Path) -> set[str]:
    with duckdb.connect(str(path), read_only=True) as connection:
        return {row[0] for row in connection.execute("select key from meta").fetchall()}


def test_the_first_writer_makes_tables_and_public_views(path: Path) -> None:
    with duckdb.connect(str(path), read_only=True) as connection:
        views = {
            row[0]
            for row in connection.execute(
                "select view_name from duckdb_views() where not internal"
            ).fetchall()
        }
    assert views >= {
        "claims_now",
        "claim_parts_now",
        "units_now",
        "parts_now",
        "classified_now",
        "rejects",
        "flags",
    }


def test_the_documented_columns_of_flags_and_rejects(path: Path) -> None:
    with duckdb.connect(str(path), read_only=True) as connection:
        for view, columns in (
            ("flags", ["claim_no", "serial", "column_name", "value", "reason"]),
            ("rejects", ["file", "row", "column_name", "value", "reason"]),
        ):
            rows = connection.execute(f"describe from {view}").fetchall()
            assert [row[0] for row in rows] == columns


def test_a_writer_that_changes_nothing_keeps_every_byte(path: Path) -> None:
    before = path.read_bytes()
    with write_warehouse(path) as session:
        session.put("scratch", pd.DataFrame({"a": [1]}))
    assert path.read_bytes() == before
    assert not path.with_name("warehouse.duckdb.draft").exists()


def test_a_writer_that_fails_leaves_the_file_as_it_was(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(ZeroDivisionError), write_warehouse(path) as session:
        _append_and_fail(session)
    assert path.read_bytes() == before
    assert not path.with_name("warehouse.duckdb.draft").exists()
    add_meta(path, "after", "1")
    assert "after" in meta(path)


def test_a_transaction_takes_back_what_it_did(path: Path) -> None:
    with write_warehouse(path) as session:
        with pytest.raises(ZeroDivisionError), session.transaction():
            _append_and_fail(session)
        session.changed = True
    assert meta(path) == {"schema_version"}


def test_a_second_writer_is_refused_and_may_wait(path: Path) -> None:
    with write_warehouse(path):
        started = time.monotonic()
        with (
            pytest.raises(LockedError, match="Another claimlens process"),
            write_warehouse(path, wait=0.2),
        ):
            pass
        assert time.monotonic() - started >= 0.2
    with write_warehouse(path):
        pass


def test_a_reader_works_beside_a_writer(path: Path) -> None:
    with write_warehouse(path) as session, read_warehouse(path) as reader:
        session.append("meta", pd.DataFrame({"key": ["x"], "value": ["y"]}))
        session.changed = True
        assert reader.count("meta") == 1


def test_no_warehouse_yet_says_what_to_do(tmp_path: Path) -> None:
    with (
        pytest.raises(WarehouseError, match="no warehouse yet") as caught,
        read_warehouse(tmp_path / "warehouse.duckdb"),
    ):
        pass
    assert "claimlens ingest" in str(caught.value.remedy)


@pytest.mark.parametrize("way", [read_warehouse, write_warehouse])
def test_a_newer_schema_is_refused(way: object, path: Path) -> None:
    with duckdb.connect(str(path)) as connection:
        connection.execute(
            "update meta set value = ? where key = 'schema_version'",
            [str(SCHEMA_VERSION + 1)],
        )
    before = path.read_bytes()
    assert callable(way)
    with pytest.raises(WarehouseError, match="schema version") as caught, way(path):
        pass
    assert str(SCHEMA_VERSION + 1) in caught.value.problem
    assert caught.value.source == str(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("way", [read_warehouse, write_warehouse])
@pytest.mark.parametrize(
    "damage",
    [
        lambda path: path.write_bytes(b"no database at all\n" * 500),
        lambda path: path.write_bytes(b"short"),
        lambda path: path.write_bytes(path.read_bytes()[:9000]),
    ],
    ids=["text", "short", "cut"],
)
def test_a_damaged_file_is_refused_and_kept(
    damage: object, way: object, path: Path
) -> None:
    assert callable(damage)
    assert callable(way)
    damage(path)
    before = path.read_bytes()
    with pytest.raises(WarehouseError) as caught, way(path) as session:
        session.count("claims_now")
    text = str(caught.value)
    assert str(path) in text
    assert ".draft" not in text
    assert caught.value.remedy
    assert path.read_bytes() == before


def test_a_database_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "warehouse.duckdb"
    with duckdb.connect(str(path)) as connection:
        connection.execute("create table books (title varchar)")
    with (
        pytest.raises(WarehouseError, match="no claimlens warehouse"),
        read_warehouse(path),
    ):
        pass


def test_a_folder_that_cannot_be_written_is_said_in_words(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = path.read_bytes()

    def refuse(source: Path, target: Path) -> None:
        raise PermissionError(13, "Permission denied")

    if os.geteuid() == 0:  # nothing is forbidden to root: play the system's part
        monkeypatch.setattr(shutil, "copyfile", refuse)
    else:
        path.parent.chmod(0o500)
    try:
        with (
            pytest.raises(WarehouseError, match="cannot be written") as caught,
            write_warehouse(path),
        ):
            pass
    finally:
        path.parent.chmod(0o700)
    assert "writable" in str(caught.value.remedy)
    assert path.read_bytes() == before


HOLDER = """
import sys, duckdb
connection = duckdb.connect(sys.argv[1])
print("held", flush=True)
sys.stdin.read()
"""


def test_a_file_held_for_writing_by_another_program(path: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert holder.stdout is not None
    try:
        assert holder.stdout.readline() == "held\n"
        with (
            pytest.raises(LockedError, match="open for writing") as caught,
            read_warehouse(path),
        ):
            pass
        assert caught.value.source == str(path)
    finally:
        holder.communicate("", timeout=30)
    with read_warehouse(path) as session:
        assert session.count("claims_now") == 0


def test_a_script_takes_exactly_its_parameters(path: Path) -> None:
    with read_warehouse(path) as session:
        session.run("staging/fold_macros")
        with pytest.raises(QueryError, match="takes"):
            session.run("staging/fold_claims", {"as_known": "2025-01-01"})
        with pytest.raises(QueryError, match="takes"):
            session.run("staging/fold_macros", {"more": 1})


def test_a_fault_in_sql_names_its_file(path: Path) -> None:
    with (
        read_warehouse(path) as session,
        pytest.raises(QueryError, match="queries/marts/claim_classes"),
    ):
        session.frame("marts/claim_classes")


def test_a_reader_cannot_change_the_file(path: Path) -> None:
    before = path.read_bytes()
    with (
        pytest.raises(WarehouseError),
        read_warehouse(path) as session,
    ):
        session.append("meta", pd.DataFrame({"key": ["x"], "value": ["y"]}))
    assert path.read_bytes() == before


@pytest.mark.parametrize("name", ['meta"; drop table meta; --', "Meta", "unknown", ""])
def test_an_identifier_that_is_not_known_never_reaches_sql(name: str) -> None:
    with pytest.raises(QueryError, match="no table"):
        quote_identifier(name, frozenset({"meta", 'meta"; drop table meta; --'}))


def test_a_script_that_is_not_there_is_named() -> None:
    with pytest.raises(Exception, match="marts/no_such_question"):
        load_script("marts/no_such_question")


def test_parquet_goes_out_and_comes_in(tmp_path: Path) -> None:
    frame = pd.DataFrame({"a": ["007", None], "n": [1.5, 2.0]})
    write_parquet(frame, tmp_path / "x.parquet")
    rows = parquet_rows(tmp_path / "x.parquet")
    assert rows["a"].tolist()[0] == "007"
    assert rows["a"].isna().tolist() == [False, True]
    assert rows["n"].tolist() == ["1.5", "2.0"]
    (tmp_path / "y.parquet").write_text("no parquet", encoding="utf-8")
    with pytest.raises(QueryError, match="no Parquet") as caught:
        parquet_rows(tmp_path / "y.parquet")
    assert str(tmp_path) in str(caught.value)


def test_an_orphaned_write_log_of_another_client_is_kept(path: Path) -> None:
    """Another client died after its commit: the log beside the file holds it."""
    code = (
        "import os, sys, duckdb\n"
        "c = duckdb.connect(sys.argv[1])\n"
        "c.execute(\"set checkpoint_threshold = '1GB'\")\n"
        "c.execute(\"insert into meta values ('theirs', '1')\")\n"
        "os._exit(1)\n"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    log = path.with_name("warehouse.duckdb.wal")
    assert log.exists()
    add_meta(path, "ours", "1")
    assert meta(path) == {"schema_version", "theirs", "ours"}
    assert not log.exists()


def test_no_query_draws_a_bar_into_the_output(tmp_path: Path) -> None:
    """Where no script is running, duckdb takes itself to be at a prompt."""
    code = (
        "import sys, duckdb; from pathlib import Path\n"
        "from claimlens.db import read_warehouse, write_warehouse\n"
        "asked = \"select current_setting('enable_progress_bar')\"\n"
        "print(duckdb.connect().execute(asked).fetchall()[0][0])\n"
        "path = Path(sys.argv[1])\n"
        "for opened in (write_warehouse, read_warehouse):\n"
        "    with opened(path) as session:\n"
        "        print(session._connection.execute(asked).fetchall()[0][0])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "warehouse.duckdb")],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == ["True", "False", "False"]
