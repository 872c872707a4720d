"""Nothing that claimlens does asks for a network.

The demo that other tests copy (``conftest.py``) is made in sealed processes; here
stands what they told, the rest of the work of a month, and that the seal holds. That
a page asks for nothing but itself is told by the tests of ``tests/browser``.
"""

from __future__ import annotations

import ast
import csv
import json
import sys
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest
from conftest import DEMO_NOTES
from seal import ROOT, run_sealed, told, without_network

from claimlens.db.engine import ENGINE_CONFIG
from claimlens.second import usable_cores

# modules of the standard library that can talk to another machine
TALKERS = {
    "asyncio", "ftplib", "http", "imaplib", "multiprocessing", "nntplib", "poplib",
    "smtplib", "socket", "socketserver", "ssl", "telnetlib", "urllib", "webbrowser",
    "xmlrpc",
}  # fmt: skip
WORK = """
import json, sys
from claimlens.cli import app
for words in json.loads(sys.argv[1]):
    assert not app(words, standalone_mode=False), words
"""
CALL = """
import socket
from claimlens.second import second_process

def refused(call):
    try:
        call()
    except PermissionError:
        return
    raise AssertionError("the network was asked")

refused(lambda: socket.create_connection(("localhost", 9)))
with second_process() as second:
    refused(second.submit(socket.getaddrinfo, "localhost", 9).result)
"""


def test_the_demo_is_made_without_a_network(
    demo: Path, made_once: Callable[..., Path]
) -> None:
    assert list((demo / "out").glob("monthly-*.html"))
    notes = made_once("demo", pytest.fail).parent / DEMO_NOTES
    assert told(notes, "refused") == []
    # the second process, which makes half of the report, was sealed too
    assert len(told(notes, "sealed")) >= min(2, usable_cores())


def test_the_work_beside_the_monthly_run_needs_no_network(
    filled: Path, tmp_path: Path
) -> None:
    inbox, own = filled / "inbox", ["--workspace", str(filled)]
    with (inbox / "parts.csv").open(encoding="utf-8", newline="") as parts:
        part = next(row for row in csv.DictReader(parts) if row["supplier"])
    with (inbox / "claims.csv").open(encoding="utf-8", newline="") as claims:
        claim = next(csv.DictReader(claims))["claim_no"]
    copy = str(tmp_path / "copy.zip")
    work = [
        ["describe", str(inbox / "claims.csv")],
        ["ingest", *own],
        ["report", "component", part["component"], *own],
        ["report", "supplier", part["supplier"], *own],
        ["review", "export", str(tmp_path / "review.xlsx"), *own],
        ["check", *own],
        ["backup", copy, *own],
        ["erase", "--claim", claim, "--reason", "asked", "--yes", *own],
        ["restore", copy, "--workspace", str(tmp_path / "again")],
        ["rates", "--format", "parquet", "--output", str(tmp_path / "r.parquet"), *own],
    ]
    run_sealed(tmp_path / "notes", "-c", WORK, json.dumps(work))
    assert told(tmp_path / "notes", "refused") == []
    assert told(tmp_path / "notes", "sealed")
    assert len(list((filled / "out").glob("*.html"))) == 2
    assert (tmp_path / "again" / "warehouse.duckdb").exists()


def test_the_seal_holds_in_every_process(tmp_path: Path) -> None:
    """Nothing leaves the machine here: the hook speaks before the system is asked."""
    run_sealed(tmp_path, "-c", CALL)
    assert len(told(tmp_path, "refused")) == 2
    assert len(list(tmp_path.glob("refused-*"))) == 2


def test_the_processes_have_no_way_out_of_the_machine(tmp_path: Path) -> None:
    if not without_network():
        pytest.skip("the system gives no network of their own to processes (unshare)")
    script = "import socket; print(*(name for _, name in socket.if_nameindex()))"
    assert run_sealed(tmp_path, "-c", script).split() == ["lo"]


def _sources() -> list[tuple[Path, ast.Module]]:
    files = sorted((ROOT / "claimlens").rglob("*.py"))
    return [(file, ast.parse(file.read_text(encoding="utf-8"))) for file in files]


def test_no_module_imports_what_talks_to_other_machines() -> None:
    assert TALKERS - {"nntplib", "telnetlib"} <= sys.stdlib_module_names
    found = []
    for file, tree in _sources():
        for node in ast.walk(tree):
            names = [alias.name for alias in getattr(node, "names", [])]
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            elif not isinstance(node, ast.Import):
                continue
            found += [
                (file.name, name) for name in names if name.split(".")[0] in TALKERS
            ]
    assert found == []


def test_every_connection_is_told_to_fetch_no_extension() -> None:
    with duckdb.connect(config=ENGINE_CONFIG) as connection:
        for name in ("autoinstall_known_extensions", "autoload_known_extensions"):
            [value] = connection.execute(
                "select current_setting($name)", {"name": name}
            ).fetchall()
            assert value == (False,)
        with pytest.raises(duckdb.Error, match="httpfs"):
            connection.execute("select * from read_csv('https://nowhere.invalid/a')")
    opened = [
        (file.name, ast.unparse(node))
        for file, tree in _sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "duckdb.connect"
    ]
    assert len(opened) >= 6
    assert [call for call in opened if "ENGINE_CONFIG" not in call[1]] == []
