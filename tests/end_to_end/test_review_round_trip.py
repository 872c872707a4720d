"""A review from the command line and through LibreOffice, there and back."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner, Result

from claimlens.cli import app

OFFICE = shutil.which("soffice")
HEADER_ROW = 2


def run(folder: Path, *arguments: str | Path) -> Result:
    return CliRunner().invoke(
        app, ["--workspace", str(folder), *(str(word) for word in arguments)]
    )


@pytest.fixture
def own(filled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(filled, tmp_path / "ws"))


def columns_of(page: openpyxl.worksheet.worksheet.Worksheet) -> dict[str, int]:
    return {cell.value: cell.column for cell in page[HEADER_ROW] if cell.value}


def fill(
    path: Path, target: Path, component: str = "motor", rows: int = 5
) -> list[str]:
    """Answer the first rows; return their claims."""
    book = openpyxl.load_workbook(path)
    page = book["review"]
    columns = columns_of(page)
    listed = range(HEADER_ROW + 1, HEADER_ROW + 1 + rows)
    for row in listed:
        page.cell(row, columns["component"]).value = component
        page.cell(row, columns["failure_mode"]).value = "worn"
    book.save(target)
    return [str(page.cell(row, columns["claim_no"]).value) for row in listed]


def office(path: Path, target: Path) -> Path:
    """Open a workbook in LibreOffice and save it from there."""
    assert OFFICE is not None
    profile = target / "profile"
    subprocess.run(
        [
            *(OFFICE, f"-env:UserInstallation=file://{profile}", "--headless"),
            *("--convert-to", "xlsx", "--outdir", str(target), str(path)),
        ],
        check=True,
        capture_output=True,
        timeout=180,
        env={**os.environ, "HOME": str(target)},
    )
    return target / path.name


def test_a_review_goes_out_comes_back_and_is_seen_at_once(own: Path) -> None:
    book = own / "review.xlsx"
    out = run(own, "review", "export", book, "--queue", "20", "--audit", "10")
    assert out.exit_code == 0, out.stderr
    assert f"review: {book}" in out.stdout
    assert "30 claims" in out.stdout
    claim_nos = fill(book, own / "filled.xlsx")
    options = ("--reviewer", "Ann", "--reviewed-on", "2026-05-04")
    back = run(own, "review", "apply", own / "filled.xlsx", *options)
    assert back.exit_code == 0, back.stderr
    assert "5 answers, 5 new" in back.stdout
    rows = json.loads(run(own, "classify", "--format", "json").stdout)
    labelled = {row["claim_no"]: row for row in rows if row["source"] == "label"}
    assert sorted(labelled) == sorted(claim_nos)
    assert {row["component"] for row in labelled.values()} == {"motor"}
    again = run(own, "review", "apply", own / "filled.xlsx", *options)
    assert "all held already; nothing changed" in again.stdout


def test_a_second_reviewer_and_where_they_differ(own: Path) -> None:
    book = own / "review.xlsx"
    run(own, "review", "export", book)
    fill(book, own / "ann.xlsx")
    day = ("--reviewed-on", "2026-05-04")
    run(own, "review", "apply", own / "ann.xlsx", "--reviewer", "Ann", *day)
    again = own / "again.xlsx"
    assert run(own, "review", "export", again, "--again", "3").exit_code == 0
    fill(again, own / "bea.xlsx", "charger", rows=1)
    back = run(own, "review", "apply", own / "bea.xlsx", "--reviewer", "Bea", *day)
    assert "reviewed by two: 1 claim" in back.stdout
    assert "different answers on 1 claim" in back.stdout
    listed = run(own, "review", "conflicts", "--format", "json")
    [row] = json.loads(listed.stdout)
    assert (row["first_component"], row["last_component"]) == ("motor", "charger")
    assert "0 of 1" in listed.stderr
    assert json.loads(run(own, "review", "orphans", "--format", "json").stdout) == []


def test_what_is_wrong_is_one_message_and_exit_code_1(own: Path) -> None:
    book = own / "review.xlsx"
    run(own, "review", "export", book)
    fill(book, own / "filled.xlsx", "moter", rows=2)
    before = (own / "warehouse.duckdb").read_bytes()
    result = run(own, "review", "apply", own / "filled.xlsx", "--reviewer", "Ann")
    assert result.exit_code == 1
    assert result.stderr.startswith("claimlens: The workbook has 4 faults")
    assert "cell L3: 'moter' is no component; the nearest is 'motor'" in (result.stderr)
    assert "--reviewed-on DATE" in result.stderr
    assert "Traceback" not in result.stderr
    assert (own / "warehouse.duckdb").read_bytes() == before
    assert run(own, "review", "export", book).exit_code == 2


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice (soffice) is not on the path")
def test_libreoffice_keeps_lists_locks_and_answers(own: Path, tmp_path: Path) -> None:
    book = own / "review.xlsx"
    run(own, "review", "export", book)
    claim_nos = fill(book, own / "filled.xlsx")
    saved = office(own / "filled.xlsx", tmp_path)
    returned, handed_out = openpyxl.load_workbook(saved), openpyxl.load_workbook(book)
    page, original = returned["review"], handed_out["review"]
    assert returned["lists"].sheet_state == "hidden"
    assert list(returned["lists"].values) == list(handed_out["lists"].values)
    # what is frozen belongs to a view, and there is none without a screen
    assert page.auto_filter.ref == original.auto_filter.ref
    assert page.protection.sheet
    columns = columns_of(page)
    assert columns == columns_of(original)
    lists = {
        str(rule.sqref).split(":")[0].rstrip("0123456789"): rule.formula1
        for rule in page.data_validations.dataValidation
        if rule.type == "list"
    }
    for name in ("component", "failure_mode", "dangerous"):
        letter = openpyxl.utils.get_column_letter(columns[name])
        assert lists[letter].replace("$", "").startswith("lists!")
    row = HEADER_ROW + 1
    assert page.cell(row, columns["claim_no"]).protection.locked
    assert not page.cell(row, columns["component"]).protection.locked
    applied = run(
        *(own, "review", "apply", saved, "--reviewer", "Ann"),
        *("--reviewed-on", "2026-05-04"),
    )
    assert applied.exit_code == 0, applied.stderr
    assert f"{len(claim_nos)} answers, {len(claim_nos)} new" in applied.stdout
    # the workbook as it was before LibreOffice says nothing new
    other = run(
        *(own, "review", "apply", own / "filled.xlsx", "--reviewer", "Ann"),
        *("--reviewed-on", "2026-05-04"),
    )
    assert "all held already; nothing changed" in other.stdout
