"""What claimlens makes in a workspace is its owner's alone."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

import claimlens
from claimlens.handover import write_bytes
from claimlens.start import create

pytestmark = pytest.mark.skipif(os.name != "posix", reason="rights as in POSIX")

UNITS = "serial,model,in_service_date\n" + "".join(
    f"S{k},Trike,2024-07-01\n" for k in range(40)
)
CLAIMS = "claim_no,serial,failed_on,reported_on,technician_note\n" + "".join(
    f"C{k},S{k},2025-02-01,2025-02-{1 + k:02d},motor noisy\n" for k in range(20)
)


def rights(path: Path) -> int:
    """Return the rights of a file or folder."""
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a workspace with a load and files to read."""
    folder = tmp_path / "ws"
    create(folder)
    (folder / "inbox" / "units.csv").write_text(UNITS, encoding="utf-8")
    (folder / "inbox" / "claims.csv").write_text(CLAIMS, encoding="utf-8")
    claimlens.open(folder).ingest()
    return folder


def test_whatever_a_run_makes_is_for_its_owner_only(folder: Path) -> None:
    """Warehouse, kept answers, log, reports: nobody else may read one of them."""
    claimlens.open(folder).run()
    ours = [path for path in folder.rglob("*") if path.parent != folder / "inbox"]
    assert {path.suffix for path in ours} >= {".duckdb", ".html", ".xlsx", ".jsonl"}
    open_to_others = [
        path.relative_to(folder).as_posix()
        for path in (folder, *ours)
        # an empty file tells nothing
        if rights(path) & 0o077
        and (path.is_dir() or path.stat().st_size)
        # written as any file of the owner's, inside a folder that nobody else enters
        and path.name != "claimlens.toml"
    ]
    assert open_to_others == []


def test_a_warehouse_opened_to_a_colleague_stays_open_to_him(folder: Path) -> None:
    warehouse = folder / "warehouse.duckdb"
    assert rights(warehouse) == 0o600
    warehouse.chmod(0o640)
    later = folder / "later.csv"
    later.write_text(CLAIMS.replace("C", "D"), encoding="utf-8")
    claimlens.open(folder).ingest(later)
    assert rights(warehouse) == 0o640


def test_a_file_written_elsewhere_is_as_open_as_its_folder(tmp_path: Path) -> None:
    for mode, wanted in ((0o700, 0o600), (0o750, 0o640), (0o755, 0o644)):
        place = tmp_path / oct(mode)
        place.mkdir(mode=mode)
        place.chmod(mode)
        before = os.umask(0o022)
        try:
            write_bytes(b"x", place / "page.html", overwrite=False)
        finally:
            os.umask(before)
        assert rights(place / "page.html") == wanted
