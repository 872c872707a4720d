"""A backup gives the workspace back, whole or not at all, and trusts no archive."""

from __future__ import annotations

import hashlib
import json
import shutil
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens.cli import app
from claimlens.errors import BackupError
from claimlens.upkeep import restoring

Change = Callable[[dict[str, bytes], dict[str, Any]], None]


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def own(filled: Path, tmp_path: Path) -> Path:
    """Copy the workspace, for tests that spoil it."""
    return Path(shutil.copytree(filled, tmp_path / "ws"))


@pytest.fixture
def backup(filled: Path, tmp_path: Path) -> Path:
    """Write a backup of the workspace."""
    result = run("backup", tmp_path / "b.zip", "--workspace", filled)
    assert result.exit_code == 0, result.output
    return tmp_path / "b.zip"


def files_of(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix not in (".lock", ".holder")
    }


def rewrite(backup: Path, change: Change) -> None:
    """Write the archive again with its members and its list changed."""
    with zipfile.ZipFile(backup) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(members.pop("manifest.json"))
    change(members, manifest)
    with zipfile.ZipFile(backup, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, contents in members.items():
            archive.writestr(name, contents)
        archive.writestr("manifest.json", json.dumps(manifest))


def listed(manifest: dict[str, Any], name: str, contents: bytes) -> None:
    manifest["files"][name] = {
        "size": len(contents),
        "sha256": hashlib.sha256(contents).hexdigest(),
    }


def test_a_restored_workspace_answers_as_the_old_one(
    filled: Path, backup: Path, tmp_path: Path
) -> None:
    result = run("restore", backup, "--workspace", tmp_path / "new")
    assert result.exit_code == 0, result.output
    for question in (["rates", "--at", "12"], ["check"], ["classify"]):
        then = run(*question, "--format", "csv", "--workspace", filled)
        now = run(*question, "--format", "csv", "--workspace", tmp_path / "new")
        assert then.exit_code == 0
        assert now.stdout == then.stdout
    new = tmp_path / "new"
    assert (new / "warehouse.duckdb").read_bytes() == (
        filled / "warehouse.duckdb"
    ).read_bytes()
    assert not (new / ".restore").exists()
    assert stat.S_IMODE((new / "warehouse.duckdb").stat().st_mode) == 0o600


def test_a_backup_is_for_its_owner_and_the_same_bytes_each_time(
    filled: Path, backup: Path, tmp_path: Path
) -> None:
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    run("backup", tmp_path / "again.zip", "--workspace", filled)
    assert (tmp_path / "again.zip").read_bytes() == backup.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["again.zip", "b.zip"]


def test_a_backup_replaces_nothing_unless_it_is_told_to(
    filled: Path, backup: Path
) -> None:
    before = backup.read_bytes()
    result = run("backup", backup, "--workspace", filled)
    assert result.exit_code == 2
    assert "--replace" in result.stderr
    assert backup.read_bytes() == before
    more = ("backup", backup, "--workspace", filled, "--replace", "--with-inbox")
    assert run(*more).exit_code == 0
    names = zipfile.ZipFile(backup).namelist()
    inbox = [name for name in names if name.startswith("workspace/inbox/")]
    assert len(inbox) == len(list((filled / "inbox").iterdir()))


def test_files_that_the_settings_name_come_along(own: Path, tmp_path: Path) -> None:
    toml = own / "claimlens.toml"
    text = toml.read_text(encoding="utf-8")
    added = '[classify]\nterms = "words/own.toml"\nlabel_map = "/etc/no-such.csv"\n'
    assert text.count("\n[classify]\n") == 1
    (own / "words").mkdir()
    (own / "words" / "own.toml").write_text("", encoding="utf-8")
    toml.write_text(text.replace("[classify]\n", added, 1), encoding="utf-8")
    result = run("backup", tmp_path / "b.zip", "--workspace", own)
    assert result.exit_code == 0, result.output
    assert "left out: /etc/no-such.csv" in result.stderr
    done = run("restore", tmp_path / "b.zip", "--workspace", tmp_path / "new")
    assert done.exit_code == 0, done.output
    assert (tmp_path / "new" / "words" / "own.toml").exists()
    assert "/etc/no-such.csv" in done.stderr


def test_a_restore_keeps_what_was_there_unless_told_otherwise(
    own: Path, backup: Path
) -> None:
    (own / "claimlens.toml").write_text("# mine\n", encoding="utf-8")
    (own / "model").mkdir(exist_ok=True)
    (own / "model" / "header.json").write_text("{}", encoding="utf-8")
    refused = run("restore", backup, "--workspace", own)
    assert refused.exit_code == 2
    assert "--replace" in refused.stderr
    assert (own / "claimlens.toml").read_text(encoding="utf-8") == "# mine\n"
    done = run("restore", backup, "--workspace", own, "--replace")
    assert done.exit_code == 0, done.output
    kept = own / "before-restore-1"
    assert (kept / "claimlens.toml").read_text(encoding="utf-8") == "# mine\n"
    assert (kept / "warehouse.duckdb").exists()
    # a model that the backup does not have would answer for the restored claims
    assert (kept / "model" / "header.json").exists()
    assert not (own / "model" / "header.json").exists()
    again = run("restore", backup, "--workspace", own, "--replace", "--discard")
    assert again.exit_code == 0
    assert not (own / "before-restore-2").exists()


def swap_warehouse(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    """List the digest of a changed warehouse, but the rows of the old one."""
    path = Path(manifest["scratch"])
    path.write_bytes(members["workspace/warehouse.duckdb"])
    with duckdb.connect(str(path)) as connection:
        connection.execute("update claims_current set cost_total = 1 where true")
    contents = path.read_bytes()
    members["workspace/warehouse.duckdb"] = contents
    listed(manifest, "warehouse.duckdb", contents)


def add_member(name: str) -> Change:
    def change(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
        members[f"workspace/{name}"] = b"x"
        listed(manifest, name, b"x")

    return change


def change_byte(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    contents = bytearray(members["workspace/claimlens.toml"])
    contents[0] ^= 1
    members["workspace/claimlens.toml"] = bytes(contents)


def longer_than_listed(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    members["workspace/claimlens.toml"] += b"#" * 50_000_000


def newer_schema(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["schema_version"] = 99


def newer_form(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["version"] = 2


def without_warehouse(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    del members["workspace/warehouse.duckdb"]
    del manifest["files"]["warehouse.duckdb"]


def no_number(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["files"]["claimlens.toml"]["size"] = -1


def not_listed(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    members["workspace/inbox/more.csv"] = b"x"


def too_large(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
    del manifest["tables"]["claims_current"]


TRICKS: dict[str, Change] = {
    "above its folder": add_member("../evil.toml"),
    "absolute": add_member("/tmp/evil.toml"),
    "windows": add_member("..\\evil.toml"),
    "drive": add_member("c:evil.toml"),
    "empty part": add_member("inbox//evil.csv"),
    "foreign file": add_member("evil.py"),
    "in the log": add_member("log/run.jsonl"),
    "staging": add_member(".restore/ready.json"),
    "a lock": add_member("run.lock"),
    "changed byte": change_byte,
    "longer": longer_than_listed,
    "newer schema": newer_schema,
    "newer form": newer_form,
    "no warehouse": without_warehouse,
    "no number": no_number,
    "not listed": not_listed,
    "table not listed": too_large,
    "other rows": swap_warehouse,
}


@pytest.mark.parametrize("trick", TRICKS)
def test_a_backup_that_was_tampered_with_changes_nothing(
    own: Path, backup: Path, tmp_path: Path, trick: str
) -> None:
    def change(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
        manifest["scratch"] = str(tmp_path / "scratch.duckdb")
        TRICKS[trick](members, manifest)
        del manifest["scratch"]

    rewrite(backup, change)
    before = files_of(own)
    result = run("restore", backup, "--workspace", own, "--replace")
    assert result.exit_code == 1, result.output
    assert result.stderr.startswith("claimlens: ")
    assert "Traceback" not in result.stderr
    assert files_of(own) == before
    assert not (own / ".restore").exists()
    new = run("restore", backup, "--workspace", tmp_path / "new")
    assert new.exit_code == 1
    assert not (tmp_path / "new").exists()
    assert not (tmp_path / "evil.toml").exists()


def test_a_link_in_an_archive_is_refused(own: Path, backup: Path) -> None:
    with zipfile.ZipFile(backup) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(backup, "w") as archive:
        for name, contents in members.items():
            entry = zipfile.ZipInfo(name)
            kind = stat.S_IFLNK if name.endswith("toml") else stat.S_IFREG
            entry.external_attr = (kind | 0o777) << 16
            archive.writestr(entry, contents)
    with pytest.raises(BackupError, match="plain files"):
        claimlens.open(own).restore(backup)


def test_a_name_that_stands_twice_is_refused(own: Path, backup: Path) -> None:
    with (
        zipfile.ZipFile(backup, "a") as archive,
        pytest.warns(UserWarning, match="Duplicate name"),
    ):
        archive.writestr("workspace/claimlens.toml", b"x")
    with pytest.raises(BackupError, match="one name"):
        claimlens.open(own).restore(backup)


@pytest.mark.parametrize(
    "contents", [b"", b"PK\x05\x06" + b"\0" * 18, b"no archive at all" * 100]
)
def test_what_is_no_backup_is_refused(
    own: Path, tmp_path: Path, contents: bytes
) -> None:
    file = tmp_path / "x.zip"
    file.write_bytes(contents)
    result = run("restore", file, "--workspace", own, "--replace")
    assert result.exit_code == 1
    assert "Traceback" not in result.stderr
    assert run("restore", tmp_path / "none.zip", "--workspace", own).exit_code == 2


def test_a_cut_off_backup_is_refused(own: Path, backup: Path) -> None:
    contents = backup.read_bytes()
    backup.write_bytes(contents[: len(contents) // 2])
    assert run("restore", backup, "--workspace", own, "--replace").exit_code == 1


@pytest.mark.parametrize("after", range(6))
def test_a_restore_that_was_killed_is_seen_whole(
    own: Path, backup: Path, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    """Each rename may be the last: the workspace is the old one or the new one."""
    toml = own / "claimlens.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + "# old\n", encoding="utf-8")
    with duckdb.connect(str(own / "warehouse.duckdb")) as connection:
        connection.execute("delete from alarms_told")
        connection.execute("insert into alarms_told values ('old', 'old')")

    class Killed(BaseException):
        pass

    left = [after]
    rename = restoring.os.replace

    def dying(source: Path, target: Path) -> None:
        if left[0] == 0:
            raise Killed
        left[0] -= 1
        rename(source, target)

    workspace = claimlens.open(own)
    with monkeypatch.context() as patched:
        patched.setattr(restoring.os, "replace", dying)
        if after < 3:
            with pytest.raises(Killed):
                workspace.restore(backup)
        else:
            workspace.restore(backup)
    claimlens.open(own)
    is_old = toml.read_text(encoding="utf-8").endswith("# old\n")
    with duckdb.connect(str(own / "warehouse.duckdb"), read_only=True) as connection:
        kinds = connection.execute("select kind from alarms_told").fetchall()
    assert (("old",) in kinds) == is_old
    # up to the note that all is checked it is the old one, from there on the new one
    assert is_old == (after == 0)
    assert not (own / ".restore").exists() or is_old


def test_a_note_of_a_restore_that_points_elsewhere_is_refused(own: Path) -> None:
    (own / ".restore" / "new").mkdir(parents=True)
    note = {"kept": None, "files": ["../../evil"], "gone": []}
    (own / ".restore" / "ready.json").write_text(json.dumps(note), encoding="utf-8")
    with pytest.raises(BackupError, match="cut off"):
        claimlens.open(own)


def test_the_present_warehouse_is_asked_before_it_is_replaced(
    own: Path, backup: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What must not come back is carried over before anybody can read it."""
    asked: list[tuple[Path | None, Path]] = []

    def carry(old: Path | None, draft: Path) -> None:
        assert draft.exists()
        assert not (own / ".restore" / "ready.json").exists()
        asked.append((old, draft))

    monkeypatch.setattr(restoring, "after_restore", carry)
    claimlens.open(own).restore(backup)
    restoring.restore(backup, tmp_path / "new")
    assert [old for old, _ in asked] == [own / "warehouse.duckdb", None]


def test_a_workspace_that_is_written_to_is_not_copied(
    own: Path, tmp_path: Path
) -> None:
    with claimlens.db.write_warehouse(own / "warehouse.duckdb"):
        result = run("backup", tmp_path / "b.zip", "--workspace", own)
    assert result.exit_code == 1
    assert "writing" in result.stderr
    assert not (tmp_path / "b.zip").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["ws"]
