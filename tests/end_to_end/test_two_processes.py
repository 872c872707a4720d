"""The monthly report is the same to the byte, however many processes make it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path

import pytest

import claimlens
from claimlens import months
from claimlens.errors import InputError, WarehouseError
from claimlens.language import Language
from claimlens.second import ProcessLostError, Second

LANGUAGES: tuple[Language, ...] = ("en", "de")


def written(workspace: Path, language: Language = "en") -> tuple[bytes, bytes]:
    """Make the report and return its page and workbook."""
    page = claimlens.open(workspace).report_monthly(language=language)
    return page.read_bytes(), page.with_suffix(".xlsx").read_bytes()


@pytest.fixture(scope="module")
def by_one(filled: Path) -> dict[Language, tuple[bytes, bytes]]:
    return {language: written(filled, language) for language in LANGUAGES}


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Take the machine to have two cores; gather what the second process does."""
    asked: list[str] = []
    submit = Second.submit

    def noted(self: Second, function: object, *arguments: object) -> Future[object]:
        asked.append(getattr(function, "__name__", ""))
        return submit(self, function, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(months, "usable_cores", lambda: 2)
    monkeypatch.setattr(Second, "submit", noted)
    return asked


@pytest.mark.slow
@pytest.mark.parametrize("language", LANGUAGES)
def test_two_processes_make_what_one_makes(
    language: Language,
    filled: Path,
    by_one: dict[Language, tuple[bytes, bytes]],
    calls: list[str],
) -> None:
    assert written(filled, language) == by_one[language]
    assert len(calls) > 1


@pytest.mark.slow
def test_a_second_process_that_is_lost_does_no_harm(
    filled: Path,
    by_one: dict[Language, tuple[bytes, bytes]],
    calls: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def lost(self: Second, *arguments: object) -> object:
        self._process.kill()
        raise ProcessLostError("gone")

    monkeypatch.setattr(Second, "_call", lost)
    assert written(filled) == by_one["en"]
    assert calls


@pytest.mark.slow
def test_a_second_process_that_cannot_start_does_no_harm(
    filled: Path,
    by_one: dict[Language, tuple[bytes, bytes]],
    calls: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("sys.executable", "no such program")
    assert written(filled) == by_one["en"]
    assert not calls


@pytest.mark.slow
def test_tables_are_those_of_one_process(
    filled: Path, calls: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    workspace = claimlens.open(filled)
    by_two = workspace.monthly_tables()
    assert calls
    monkeypatch.setattr(months, "usable_cores", lambda: 1)
    by_one = workspace.monthly_tables()
    assert [sheet.id for sheet in by_two.sheets] == [
        sheet.id for sheet in by_one.sheets
    ]
    for one, two in zip(by_one.sheets, by_two.sheets, strict=True):
        assert one.frame.equals(two.frame), one.id


@pytest.mark.slow
def test_one_thread_is_one_process(
    filled: Path, calls: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    @contextmanager
    def not_wanted() -> Iterator[Second]:
        raise AssertionError("a second process was started")
        yield  # type: ignore[unreachable]

    monkeypatch.setattr(months, "second_process", not_wanted)
    text = (filled / "claimlens.toml").read_text(encoding="utf-8")
    own = filled.parent / "one thread"
    own.mkdir()
    (own / "claimlens.toml").write_text(
        f"{text}\n[engine]\nthreads = 1\n", encoding="utf-8"
    )
    (own / "warehouse.duckdb").write_bytes((filled / "warehouse.duckdb").read_bytes())
    assert claimlens.open(own).monthly_tables().sheets
    assert not calls


def test_errors_are_those_of_one_process(filled: Path, calls: list[str]) -> None:
    workspace = claimlens.open(filled)
    with pytest.raises(InputError, match="lies before the first claim"):
        workspace.monthly_tables(as_of="2001-01-31")
    bare = filled.parent / "bare"
    bare.mkdir()
    (bare / "claimlens.toml").write_text("", encoding="utf-8")
    with pytest.raises(WarehouseError, match="no warehouse yet"):
        claimlens.open(bare).monthly_tables()
    assert calls
