"""A backup from before an erasure brings nobody back."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from erase_desk import (
    CLAIMS,
    SERIAL,
    found_in,
    found_in_bytes,
    strings_of,
    texts_of_files,
)
from typer.testing import CliRunner

import claimlens
from claimlens import handover
from claimlens.cli import app
from claimlens.upkeep.restoring import restore
from claimlens.workspace import Workspace


@pytest.fixture
def backup(loaded: Workspace, tmp_path: Path) -> Path:
    """Write a backup with the exports, from before any erasure."""
    return loaded.backup(tmp_path / "b.zip", with_inbox=True).path


def shown(folder: Path) -> list[str]:
    """Return the files that show a secret, the warehouse among them."""
    files = [
        name for name, text in texts_of_files(folder).items() if found_in(name + text)
    ]
    held = found_in(strings_of(folder / "warehouse.duckdb"))
    return files + held + found_in_bytes(folder / "warehouse.duckdb")


def told(workspace: Workspace) -> str:
    frames = (
        workspace.rates(by=["component", "model"], at=6),
        workspace.tally(by=["component", "dealer"]),
        workspace.rates(as_known="2025-10-20", as_of="2025-10-20"),
    )
    return "".join(handover.to_json(handover.records(frame)) for frame in frames)


def test_a_backup_from_before_is_erased_before_it_is_in_its_place(
    loaded: Workspace, backup: Path
) -> None:
    before = told(loaded)
    loaded.erase(serials=SERIAL)
    done = loaded.restore(backup)
    assert done.erased is not None
    assert (done.erased.serials, done.erased.claims) == (1, 2)
    assert done.erased.files >= 8
    again = claimlens.open(loaded.folder)
    assert shown(again.folder) == []
    assert told(again) == before
    assert set(again.check()["state"]) == {"held"}


def test_after_it_old_exports_bring_nothing_back(
    loaded: Workspace, backup: Path, tmp_path: Path
) -> None:
    old = shutil.copytree(loaded.folder / "inbox", tmp_path / "old")
    loaded.erase(serials=SERIAL)
    loaded.restore(backup)
    again = claimlens.open(loaded.folder)
    own = again.ingest()
    assert own[["inserted", "updated"]].to_numpy().sum() == 0
    account = again.ingest(old)
    assert account["erased"].sum() > 0
    assert account[["inserted", "updated"]].to_numpy().sum() == 0
    assert shown(again.folder) == []


def test_one_claim_alone_is_erased_again(loaded: Workspace, backup: Path) -> None:
    loaded.erase(claims=CLAIMS[0])
    done = loaded.restore(backup)
    assert done.erased is not None
    assert (done.erased.serials, done.erased.claims) == (0, 1)
    held = strings_of(loaded.warehouse)
    assert found_in(held, (CLAIMS[0], "zirbelholz", "wimmelkiste")) == []
    assert SERIAL in held


def test_a_file_that_cannot_be_written_again_stays_in_the_backup(
    loaded: Workspace, tmp_path: Path
) -> None:
    odd = loaded.folder / "inbox" / "letter.pdf"
    odd.write_bytes(b"%PDF-1.7 about " + SERIAL.encode())
    backup = loaded.backup(tmp_path / "b.zip", with_inbox=True).path
    odd.unlink()
    loaded.erase(serials=SERIAL)
    done = loaded.restore(backup)
    assert done.erased is not None
    assert done.erased.removed == ("inbox/letter.pdf",)
    assert not odd.exists()


def test_a_second_restore_finds_the_same(loaded: Workspace, backup: Path) -> None:
    loaded.erase(serials=SERIAL)
    loaded.restore(backup)
    once = strings_of(loaded.warehouse).count("ERASED-")
    loaded.restore(backup)
    assert strings_of(loaded.warehouse).count("ERASED-") == once
    assert shown(loaded.folder) == []


def test_where_nothing_was_erased_a_restore_says_nothing(
    loaded: Workspace, backup: Path
) -> None:
    result = CliRunner().invoke(
        app, ["restore", str(backup), "--replace", "--workspace", str(loaded.folder)]
    )
    assert result.exit_code == 0, result.output
    assert result.stderr == ""


def test_in_a_new_folder_a_restore_says_that_nobody_knows(
    loaded: Workspace, backup: Path, tmp_path: Path
) -> None:
    loaded.erase(serials=SERIAL)
    arguments = ["restore", str(backup), "--workspace", str(tmp_path / "new")]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    assert "not known here" in result.stderr
    assert restore(backup, loaded.folder, replace=True).erased is not None
