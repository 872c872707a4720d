"""``report supplier``: the pack holds what is his, adds up, and names nobody."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from html.parser import HTMLParser
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

from claimlens.cli import app

OURS, OTHER = "Quillfer Controls", "Taldrin Works"
PERSONAL = (
    "Annegret Wiesenthal", "annegret.w@posteo.example", "0171 2345678",
    "Lindenstraße 14", "DE89 3704 0044 0532 0130 00", "Fahrradhaus Brockmöller",
)  # fmt: skip
TECHNICAL = ("TH-2210-B", "C0007", "v2.14.3", "E-21", "36 V")
NARRATIVE = (
    "Sehr geehrte Damen und Herren, der Gasgriff TH-2210-B hat nach dem Update auf "
    "v2.14.3 keine Funktion, Fehler E-21, Akku 36 V. Vorgang C0007. Bitte zurückrufen: "
    "0171 2345678 oder annegret.w@posteo.example. Erstattung auf DE89 3704 0044 0532 "
    "0130 00. Gekauft bei Fahrradhaus Brockmöller. Mit freundlichen Grüßen, Annegret "
    "Wiesenthal, Lindenstraße 14, 48143 Münster"
)
SETTINGS = f"""
[redaction]
serial_characters = 3

[[agreement]]
supplier = "{OURS.lower()}"
parts = ["TH-22*"]
since = 2025-06-01
within_months = 24
share = 0.25
labour = true
"""


def run(*arguments: str | Path) -> str:
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


def lines(header: str, rows: list[tuple[object, ...]]) -> str:
    body = [",".join("" if v is None else f'"{v}"' for v in row) for row in rows]
    return "\n".join([header, *body]) + "\n"


def unit_rows() -> list[tuple[object, ...]]:
    built = date(2024, 3, 4)
    return [
        (
            f"SN{n:05d}", "Lasto", 2024, built + timedelta(days=n),
            built + timedelta(days=n + 20), "Fahrradhaus Brockmöller",
        )
        for n in range(120)
    ]  # fmt: skip


def claim_rows() -> list[tuple[object, ...]]:
    """Units 0 to 11 carry our part and failed, units 60 to 62 that of the other."""
    rows: list[tuple[object, ...]] = []
    for place, n in enumerate([*range(12), 60, 61, 62]):
        failed = date(2025, 5, 20) + timedelta(days=9 * place)
        cost = (40.10, 21.05, 6.00) if place != 3 else (None, None, None)
        rows.append(
            (
                f"C{place:04d}", failed + timedelta(days=4), f"SN{n:05d}", failed,
                "closed" if place != 5 else "denied", NARRATIVE,
                "throttle dead, replaced", "TH-2210-B", *cost,
                "EUR" if place != 4 else "CHF", "Annegret Wiesenthal",
            )
        )  # fmt: skip
    return rows


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pack") / "ws"
    run("init", folder)
    (folder / "claimlens.toml").write_text(SETTINGS, encoding="utf-8")
    inbox = folder / "inbox"
    fitted = [
        (f"SN{n:05d}", "throttle", "TH-2210-B" if n < 60 else "TW-9",
         OURS if n < 60 else OTHER, f"Q{n // 30}", "2024-03-01")
        for n in range(120)
    ]  # fmt: skip
    files = {
        "units": lines(
            "serial,model,model_year,build_date,in_service_date,dealer", unit_rows()
        ),
        "claims": lines(
            "claim_no,reported_on,serial,failed_on,status,narrative,technician_note,"
            "part_no,cost_parts,cost_labour,cost_freight,currency,Kundenname",
            claim_rows(),
        ),
        "parts": lines(
            "part_no,description,component,supplier",
            [
                ("TH-2210-B", "thumb throttle", "throttle", OURS),
                ("TW-9", "thumb throttle", "throttle", OTHER),
                ("HL-1", "headlight", "headlight", "Nobody Asked"),
            ],
        ),
        "fitted_parts": lines(
            "serial,component,part_no,supplier,lot,fitted_on", fitted
        ),
        "findings": lines(
            "claim_no,inspected_on,finding,note",
            [("C0001", "2025-06-20", "no fault found", "Prüfer: Annegret Wiesenthal")],
        ),
        "responses": lines(
            "supplier,question_no,component,asked_on,due_on,answered_on,answer,"
            "charged_on,amount_charged,amount_accepted,amount_received,currency",
            [
                (OURS, "Q-1", "throttle", "2025-08-01", "2025-08-15", "2025-08-20",
                 "Wir prüfen. Annegret Wiesenthal", "2025-08-25", 50, 30.5, 10, "EUR"),
                (OURS, "Q-2", "throttle", "2025-08-01", "2025-08-20", None, None,
                 None, None, None, None, None),
                (OTHER, "Q-3", "throttle", "2025-08-01", "2025-08-20", None, None,
                 None, 999, None, None, "EUR"),
            ],
        ),
    }  # fmt: skip
    for kind, text in files.items():
        (inbox / f"{kind}.csv").write_text(text, encoding="utf-8")
    run("ingest", "--workspace", folder)
    return folder


@pytest.fixture(scope="module")
def page(desk: Path) -> Path:
    printed = run("report", "supplier", OURS, "--workspace", desk).splitlines()
    assert [Path(line).suffix for line in printed] == [".html", ".xlsx"]
    return Path(printed[0])


def cells(book: Path) -> Iterator[object]:
    for sheet in openpyxl.load_workbook(book).worksheets:
        for row in sheet.iter_rows(values_only=True):
            yield from (cell for cell in row if cell is not None)


class Told(HTMLParser):
    """Every text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(text)

    def handle_data(self, data: str) -> None:
        self.found.append(data)


@pytest.mark.parametrize("personal", PERSONAL)
def test_nothing_personal_is_in_page_or_workbook(page: Path, personal: str) -> None:
    text = page.read_text(encoding="utf-8")
    book = " ".join(str(cell) for cell in cells(page.with_suffix(".xlsx")))
    for word in (personal, *re.findall(r"[^\W\d_]{4,}", personal)):
        assert word.casefold() not in text.casefold()
        assert word.casefold() not in book.casefold()


@pytest.mark.parametrize("technical", TECHNICAL)
def test_technical_words_stay(page: Path, technical: str) -> None:
    assert technical in " ".join(Told(page.read_text(encoding="utf-8")).found)
    assert any(technical in str(cell) for cell in cells(page.with_suffix(".xlsx")))


def test_other_suppliers_are_not_named(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    book = " ".join(str(cell) for cell in cells(page.with_suffix(".xlsx")))
    for name in (OTHER, "Taldrin", "Nobody Asked", "TW-9", "Q-3"):
        assert name not in text
        assert name not in book


def test_serials_are_shortened(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "SN00001" not in text
    assert "001" in text


def test_the_claims_are_those_on_his_parts(desk: Path) -> None:
    document = json.loads(
        run("report", "supplier", OURS, "--format", "json", "--workspace", desk)
    )
    rows = document["tables"]["claims"]["rows"]
    assert sorted(row["claim_no"] for row in rows) == [f"C{n:04d}" for n in range(12)]
    assert {row["told_by"] for row in rows} == {"fitted"}
    assert "Kundenname" not in rows[0]
    assert "dealer" not in rows[0]


def test_the_statement_adds_up_by_hand(desk: Path) -> None:
    """A quarter of parts and labour (40.10 + 21.05), from failures of June 2025 on.

    Claims 0 and 1 failed in May, 3 has no cost, 4 is in francs, 5 is denied: six are
    left in euro, and 15.2875 is 15.29 for each.
    """
    document = json.loads(
        run("report", "supplier", OURS, "--format", "json", "--workspace", desk)
    )
    tables = document["tables"]
    by = {row["currency"]: row for row in tables["statement"]["rows"]}
    assert set(by) == {"EUR", "CHF"}
    euro = by["EUR"]
    assert (euro["claims"], euro["owed"]) == (7, pytest.approx(7 * 15.29))
    assert euro["charged"] == 50
    assert euro["accepted"] == 30.5
    assert euro["received"] == 10
    assert euro["not_charged"] == pytest.approx(7 * 15.29 - 50)
    assert euro["not_received"] == pytest.approx(20.5)
    assert (by["CHF"]["claims"], by["CHF"]["owed"]) == (1, 15.29)
    why = {row["reason"]: row["claims"] for row in tables["not-owed"]["rows"]}
    assert why == {
        "no agreement fits": 1,
        "no fault found": 1,
        "no cost told, or not by parts and labour": 1,
        "denied": 1,
    }
    claims = {row["claim_no"]: row for row in tables["claims"]["rows"]}
    assert claims["C0002"]["owed"] == 15.29
    assert claims["C0000"]["not_owed"] == "no agreement fits"


def test_an_overdue_answer_is_told_and_one_after_the_cut_off_is_not(
    desk: Path, tmp_path: Path
) -> None:
    out = tmp_path / "then.html"
    run("report", "supplier", OURS, "--as-of", "2025-08-18", "--output", out,
        "--workspace", desk)  # fmt: skip
    text = " ".join(Told(out.read_text(encoding="utf-8")).found)
    assert "0 of 2 questions are answered, 1 overdue" in text
    assert "Wir prüfen" not in text


def test_two_runs_give_the_same_bytes(desk: Path, page: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.html"
    run("report", "supplier", OURS, "--output", again, "--workspace", desk)
    assert again.read_bytes() == page.read_bytes()
    beside = page.with_suffix(".xlsx").read_bytes()
    assert again.with_suffix(".xlsx").read_bytes() == beside


def test_an_unknown_supplier_is_refused_with_the_nearest_name(desk: Path) -> None:
    result = CliRunner().invoke(
        app, ["report", "supplier", "Quilfer Control", "--workspace", str(desk)]
    )
    assert result.exit_code == 2
    assert "There is no supplier 'Quilfer Control'." in result.stderr
    assert f"did you mean '{OURS}'?" in result.stderr


@pytest.mark.parametrize("name", ["../../etc", "<script>alert(1)</script>", ""])
def test_a_name_with_a_path_or_tags_writes_nothing(desk: Path, name: str) -> None:
    before = sorted(desk.rglob("*"))
    result = CliRunner().invoke(
        app, ["report", "supplier", name, "--workspace", str(desk)]
    )
    assert result.exit_code in (1, 2)
    assert "Traceback" not in result.output
    assert sorted(desk.rglob("*")) == before


def test_a_supplier_without_claims_gets_a_right_page(desk: Path) -> None:
    path = Path(
        run("report", "supplier", "nobody  asked", "--workspace", desk).split("\n")[0]
    )
    text = " ".join(Told(path.read_text(encoding="utf-8")).found)
    assert "No claim on your parts was reported up to the cut-off." in text
    assert "Annegret" not in text
