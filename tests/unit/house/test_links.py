"""A workspace that came by mail may hold links: nothing is written through them."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from claimlens.db.holder import note_holder, who_holds
from claimlens.errors import InputError
from claimlens.handover import write_text
from claimlens.runs import RunLog
from claimlens.upkeep.erasure_proof import append_proof

pytestmark = pytest.mark.skipif(os.name != "posix", reason="links are rare elsewhere")


@pytest.fixture
def precious(tmp_path: Path) -> Path:
    path = tmp_path / "precious"
    path.write_text("mine")
    return path


def test_a_draft_is_not_written_through_a_link(tmp_path: Path, precious: Path) -> None:
    draft = tmp_path / f".page.html.{os.getpid()}.draft"
    draft.symlink_to(precious)
    write_text("new", tmp_path / "page.html", overwrite=False)
    assert (tmp_path / "page.html").read_text() == "new"
    assert not (tmp_path / "page.html").is_symlink()
    assert precious.read_text() == "mine"


def test_a_draft_does_not_take_the_rights_of_what_lay_there(tmp_path: Path) -> None:
    draft = tmp_path / f".page.html.{os.getpid()}.draft"
    draft.write_text("left behind")
    draft.chmod(0o666)
    tmp_path.chmod(0o700)
    write_text("new", tmp_path / "page.html", overwrite=False)
    assert (tmp_path / "page.html").stat().st_mode & 0o077 == 0


def test_the_log_is_not_written_through_a_link(tmp_path: Path, precious: Path) -> None:
    log = tmp_path / "log" / "run.jsonl"
    log.parent.mkdir()
    log.symlink_to(precious)
    precious.chmod(0o644)
    with pytest.raises(InputError, match="cannot be written"):
        RunLog(log).write("file", file="$(touch ran).csv")
    assert precious.read_text() == "mine"
    assert precious.stat().st_mode & 0o777 == 0o644


def test_who_holds_a_lock_is_not_written_through_a_link(
    tmp_path: Path, precious: Path
) -> None:
    holder = tmp_path / "run.holder"
    holder.symlink_to(precious)
    note_holder(holder)
    assert str(os.getpid()) in who_holds(holder)
    assert precious.read_text() == "mine"


def test_a_proof_is_not_appended_through_a_link(tmp_path: Path, precious: Path) -> None:
    (tmp_path / "erasures.jsonl").symlink_to(precious)
    with pytest.raises(InputError, match="cannot be written"):
        append_proof(tmp_path / "erasures.jsonl", {"erasure": "$(touch x)"})
    assert precious.read_text() == "mine"
