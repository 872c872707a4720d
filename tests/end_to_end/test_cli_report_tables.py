"""The tables of the monthly report beside its page, in files, and on the screen."""

from __future__ import annotations

import csv
import json
from datetime import date
from pathlib import Path

import duckdb
import openpyxl
import pandas as pd
import pytest
from click.testing import Result
from typer.testing import CliRunner

import claimlens
from claimlens import printing
from claimlens.cli import app
from claimlens.handover import ReportTables, workbook_bytes
from claimlens.monthly_inputs import Arrivals
from claimlens.monthly_inputs.frames import ARRIVAL_COLUMNS
from claimlens.printing import MonthlyReport, MonthNews
from claimlens.reports import Reports

NOTHING = Arrivals(
    findings=(), sources=pd.DataFrame(columns=ARRIVAL_COLUMNS["sources"])
)


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, ["report", "monthly", *map(str, arguments)])


@pytest.fixture(scope="module")
def page(filled: Path) -> Path:
    """Write the page and its workbook."""
    result = run("--workspace", filled)
    assert result.exit_code == 0, result.output
    page, workbook = (Path(line) for line in result.stdout.splitlines())
    assert workbook == page.with_suffix(".xlsx")
    return page


@pytest.fixture(scope="module")
def tables(filled: Path) -> ReportTables:
    """Count the tables once; the tests write them in each form."""
    return claimlens.open(filled).monthly_tables()


@pytest.fixture
def counted(tables: ReportTables, monkeypatch: pytest.MonkeyPatch) -> ReportTables:
    monkeypatch.setattr(Reports, "monthly_tables", lambda *given, **named: tables)
    return tables


def test_the_workbook_beside_the_page_is_the_same_each_time(
    page: Path, tables: ReportTables, filled: Path
) -> None:
    assert page.read_bytes().startswith(b"<!DOCTYPE html>")
    assert page.with_suffix(".xlsx").read_bytes() == workbook_bytes(tables)
    assert {path.name for path in page.parent.iterdir()} == {
        page.name,
        page.with_suffix(".xlsx").name,
        ".reports.json",  # which of these files are ours
    }


def test_a_page_or_workbook_that_is_there_is_not_replaced_unasked(
    filled: Path, tmp_path: Path
) -> None:
    (tmp_path / "own.xlsx").write_bytes(b"mine")
    refused = run("--output", tmp_path / "own.html", "--workspace", filled)
    assert refused.exit_code == 2
    assert "--replace" in refused.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["own.xlsx"]
    assert run("--output", tmp_path / "a.xlsx", "--workspace", filled).exit_code == 2


def test_the_page_can_do_without_a_workbook(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def report(*given: object, with_workbook: bool, **named: object) -> MonthlyReport:
        return MonthlyReport(
            page="page",
            workbook=b"book" if with_workbook else None,
            news=MonthNews(
                title="", as_of=date(2026, 4, 30), decisions=(), arrivals=NOTHING
            ),
        )

    monkeypatch.setattr(printing, "monthly_report", report)
    alone = run("--output", tmp_path / "a.html", "--no-workbook", "--workspace", filled)
    assert alone.stdout.splitlines() == [str(tmp_path / "a.html")]
    assert [path.name for path in tmp_path.iterdir()] == ["a.html"]
    assert run("--output", tmp_path / "b.html", "--workspace", filled).exit_code == 0
    assert (tmp_path / "b.xlsx").read_bytes() == b"book"


def test_every_figure_is_that_of_the_question(
    page: Path, counted: ReportTables, filled: Path
) -> None:
    workspace = claimlens.open(filled)
    ages = workspace.settings.report.table_at_months
    rates = workspace.rates(by="component", at=ages).dropna(subset="rate")
    book = openpyxl.load_workbook(page.with_suffix(".xlsx"))["Rates by age"]
    header, *rows = book.iter_rows(values_only=True)
    cells = [dict(zip(header, row, strict=True)) for row in rows]
    in_book = {(c["component"], c["at_months"]): c for c in cells}
    printed = run("--format", "json", "--workspace", filled)
    assert printed.exit_code == 0, printed.output
    table = json.loads(printed.stdout)["tables"]["rates-by-age"]
    in_text = {(r["component"], r["at_months"]): r for r in table["rows"]}
    compared = 0
    for row in rates.to_dict("records"):
        key = (row["component"], row["at_months"])
        if key not in in_text:
            continue
        for name in ("units", "claims", "rate", "lower", "upper", "plain_rate"):
            assert in_text[key][name] == row[name]
            assert in_book[key][name] == pytest.approx(row[name], rel=1e-15)
        compared += 1
    assert compared > 20


def test_each_table_goes_to_a_file_of_its_own(
    counted: ReportTables, filled: Path, tmp_path: Path
) -> None:
    ids = {sheet.id for sheet in counted.sheets}
    assert len(ids) > 30
    rows = {}
    for form in ("csv", "json", "parquet"):
        folder = tmp_path / form
        given = ("--format", form, "--output", folder, "--workspace", filled)
        result = run(*given)
        assert result.exit_code == 0, result.output
        assert {path.name for path in folder.iterdir()} == {
            f"{id_}.{form}" for id_ in ids | {"contents", "columns", "definitions"}
        }
        assert result.stdout.splitlines()[0] == str(folder / f"contents.{form}")
        refused = run(*given)
        assert refused.exit_code == 2
        assert "--replace" in refused.stderr
        assert run(*given, "--replace").exit_code == 0
        rows[form] = folder / f"claims-by-month.{form}"
    with rows["csv"].open(newline="", encoding="utf-8") as file:
        by_csv = [(r["month"], int(r["claims"])) for r in csv.DictReader(file)]
    by_json = [(r["month"], r["claims"]) for r in json.loads(rows["json"].read_text())]
    by_parquet = duckdb.sql(
        f"select strftime(month, '%Y-%m-%d'), claims from '{rows['parquet']}'"
    ).fetchall()
    assert len(by_csv) > 12
    assert by_csv == by_json == by_parquet


def test_a_column_of_a_parquet_file_has_its_type_whatever_it_holds(
    counted: ReportTables, filled: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "tables"
    run("--format", "parquet", "--output", folder, "--workspace", filled)
    wanted = {"date": "DATE", "month": "DATE", "share": "DOUBLE", "money": "DOUBLE"}
    wanted |= {"text": "VARCHAR", "key": "VARCHAR", "flag": "BOOLEAN"}
    seen = set()
    for sheet in counted.sheets:
        path = folder / f"{sheet.id}.parquet"
        for name, type_, *_ in duckdb.sql(f"describe from '{path}'").fetchall():
            kind = sheet.kinds[name]
            if kind in wanted:
                assert type_ == wanted[kind], (sheet.id, name)
                seen.add(kind)
    assert seen == set(wanted)


def test_many_files_need_a_folder(filled: Path, tmp_path: Path) -> None:
    result = run("--format", "csv", "--workspace", filled)
    assert result.exit_code == 2
    assert "--output FOLDER" in result.stderr
    nowhere = tmp_path / "a" / "b"
    result = run("--format", "csv", "--output", nowhere, "--workspace", filled)
    assert result.exit_code == 2
