"""An erasure reaches older states, archives and workbooks of every format."""

from __future__ import annotations

import gzip
import io
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path

import duckdb
import openpyxl
import pandas as pd
import pytest
import xlwt
from erase_desk import (
    CLAIMS,
    SECRETS,
    SERIAL,
    claims,
    found_in,
    found_in_bytes,
    make,
    strings_of,
    text_of,
)

import claimlens
from claimlens.workspace import Workspace


def parts_of(name: str, raw: bytes) -> dict[str, bytes]:
    """Return a file and, unpacked, everything that it holds."""
    found = {name: raw}
    if raw.startswith(b"\x1f\x8b"):
        found |= parts_of(f"{name}!", gzip.decompress(raw))
    if raw.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            for member in archive.namelist():
                found |= parts_of(f"{name}!{member}", archive.read(member))
    return found


def shown(folder: Path) -> dict[str, list[str]]:
    """Return the secrets in the bytes of every file and of what it packs."""
    patterns = {
        secret: [secret.lower().encode(code) for code in ("utf-8", "utf-16-le")]
        for secret in SECRETS
    }
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            name = path.relative_to(folder).as_posix()
            for part, raw in parts_of(name, path.read_bytes()).items():
                low = raw.lower()
                found[part] = [
                    secret
                    for secret, wanted in patterns.items()
                    if any(one in low for one in wanted)
                ]
    return {part: secrets for part, secrets in found.items() if secrets}


def test_an_older_state_that_a_restore_kept_is_erased_too(
    loaded: Workspace, tmp_path: Path
) -> None:
    backup = loaded.backup(tmp_path / "b.zip").path
    loaded.restore(backup)
    kept = loaded.folder / "before-restore-1" / "warehouse.duckdb"
    units = strings_of(kept).count("UNIT-1001")
    again = claimlens.open(loaded.folder)
    told = again.erase(serials=SERIAL)
    assert f"before-restore-1/{kept.name}" in told["place"].tolist()
    assert shown(loaded.folder) == {}
    assert found_in(strings_of(kept)) == []
    assert strings_of(kept).count("UNIT-1001") == units
    assert len(again.erase(serials=SERIAL)) == 0


def test_a_backup_in_the_workspace_is_erased_and_can_be_restored(
    loaded: Workspace, tmp_path: Path
) -> None:
    backup = loaded.backup(loaded.folder / "b.zip", with_inbox=True).path
    before = loaded.rates(by=["component"], at=6)
    loaded.erase(serials=SERIAL)
    assert shown(loaded.folder) == {}
    moved = Path(shutil.move(backup, tmp_path / "b.zip"))
    loaded.restore(moved)
    restored = claimlens.open(loaded.folder)
    pd.testing.assert_frame_equal(restored.rates(by=["component"], at=6), before)
    assert shown(loaded.folder) == {}


def test_a_copy_of_the_warehouse_under_another_name(loaded: Workspace) -> None:
    copy = loaded.folder / "warehouse.duckdb.bak"
    shutil.copyfile(loaded.warehouse, copy)
    loaded.erase(claims=CLAIMS[0])
    assert found_in_bytes(copy, (CLAIMS[0], "zirbelholz", "wimmelkiste")) == []
    with duckdb.connect(str(copy), read_only=True) as connection:
        rows = connection.execute("select count(*) from claims_current").fetchall()
    assert rows == [(53,)]


def _xls(rows: pd.DataFrame) -> bytes:
    book = xlwt.Workbook()
    sheet = book.add_sheet("claims")
    for column, name in enumerate(rows.columns):
        sheet.write(0, column, name)
        for row, text in enumerate(rows[name]):
            sheet.write(row + 1, column, text)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _ods(rows: pd.DataFrame) -> bytes:
    out = io.BytesIO()
    rows.to_excel(out, index=False, engine="odf")
    return out.getvalue()


def _xlsx(rows: pd.DataFrame) -> bytes:
    out = io.BytesIO()
    rows.to_excel(out, index=False)
    return gzip.compress(out.getvalue())


@pytest.mark.parametrize(
    ("name", "write"),
    [("old.xls", _xls), ("old.ods", _ods), ("old.xlsx.gz", _xlsx)],
    ids=["xls", "ods", "xlsx.gz"],
)
def test_a_workbook_is_written_again_and_reads_as_before(
    name: str, write: Callable[[pd.DataFrame], bytes], tmp_path: Path
) -> None:
    workspace = make(tmp_path / "w")
    for own in ("claims_1.csv", "claims_2.csv", "short.csv"):
        (workspace.folder / "inbox" / own).unlink()
    rows = pd.DataFrame(claims(newest=True)).fillna("")
    path = workspace.folder / "inbox" / name
    path.write_bytes(write(rows))
    workspace.ingest()
    workspace.erase(serials=SERIAL)
    assert shown(workspace.folder) == {}
    before = strings_of(workspace.warehouse)
    assert workspace.ingest()[["inserted", "updated"]].to_numpy().sum() == 0
    # where nothing is known, every other cell reads as it did
    account = make(tmp_path / "fresh").ingest(path)
    assert account["rejected"].tolist() == [0]
    assert account["inserted"].tolist() == [len(rows) - 2]
    assert strings_of(workspace.warehouse) == before


def test_an_archive_of_exports_is_written_again(loaded: Workspace) -> None:
    path = loaded.folder / "inbox" / "mail.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a/claims.csv", text_of(claims(newest=True)))
        archive.writestr("a/book.xls", _xls(pd.DataFrame(claims(newest=False))))
        archive.writestr("note.txt", "nothing of interest")
    loaded.erase(serials=SERIAL)
    assert shown(loaded.folder) == {}
    with zipfile.ZipFile(path) as archive:
        assert archive.namelist() == ["a/claims.csv", "a/book.xls", "note.txt"]
        assert archive.read("note.txt") == b"nothing of interest"
        assert b"CLM-10001" in archive.read("a/claims.csv")


def test_numbers_with_zeros_before_them_are_known_as_serials(tmp_path: Path) -> None:
    workspace = make(tmp_path / "w")
    path = workspace.folder / "inbox" / "book.xlsx"
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["serial", "model", "model_year"])
    for number in (42, 43):
        sheet.append([number, "Roller", 2024])
        sheet.cell(sheet.max_row, 1).number_format = "000000"
    book.save(path)
    workspace.ingest()
    workspace.erase(serials="000042")
    left = openpyxl.load_workbook(path).active
    assert left is not None
    assert [cell.value for cell in left["A"]] == ["serial", None, 43]


def test_what_a_killed_erasure_left_half_written_goes(loaded: Workspace) -> None:
    # no process has so large a number
    half = loaded.folder / "before-restore-1" / ".b.zip.older.4999999.draft"
    half.mkdir(parents=True)
    (half / "claims.csv").write_text(text_of(claims(newest=True)), encoding="utf-8")
    loaded.erase(serials=SERIAL)
    assert not half.exists()
    assert shown(loaded.folder) == {}
