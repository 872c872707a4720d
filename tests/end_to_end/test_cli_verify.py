"""A report is made again from what its page says, and what differs is named."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner, Result

import claimlens
from claimlens.cli import app
from claimlens.monthly_inputs import made_by, sealed

COMPONENT = "wiring harness"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def verify(workspace: Path, page: Path, code: int = 0) -> dict[str, dict[str, str]]:
    result = run("verify", page, "--workspace", workspace, "--format", "json")
    assert result.exit_code == code, result.output
    return {row["what"]: row for row in json.loads(result.stdout)}


@pytest.fixture(scope="module")
def pages(filled: Path) -> dict[str, Path]:
    """Make a report of each kind, as its own command makes it."""
    own = claimlens.open(filled)
    [supplier, *_] = own.rates(by=["supplier"], at=12)["supplier"].dropna()
    return {
        "monthly": own.report_monthly(workbook=False, language="de"),
        "component": own.report_component(COMPONENT, workbook=False),
        "supplier": own.report_supplier(str(supplier), workbook=False),
        "known": own.report_component(
            COMPONENT,
            as_of=date(2026, 3, 31),
            as_known=date(2026, 6, 30),
            internal=True,
            workbook=False,
        ),
    }


@pytest.fixture
def own(filled: Path, pages: dict[str, Path], tmp_path: Path) -> Path:
    """Copy the workspace with its reports, for tests that spoil it."""
    assert pages
    return Path(shutil.copytree(filled, tmp_path / "ws"))


@pytest.mark.parametrize("name", ["monthly", "component", "supplier", "known"])
def test_a_report_is_made_again_byte_for_byte(
    filled: Path, pages: dict[str, Path], name: str, tmp_path: Path
) -> None:
    page = tmp_path / "sent.html"
    shutil.copyfile(pages[name], page)
    before = sorted((filled / "out").iterdir())
    verified = claimlens.open(filled).verify(page)
    assert verified.is_same, verified.notes
    assert {fact.state for fact in verified.facts} == {"same"}
    assert sorted((filled / "out").iterdir()) == before


def test_each_page_says_what_made_it(pages: dict[str, Path]) -> None:
    made = {name: made_by(page.read_text("utf-8")) for name, page in pages.items()}
    assert all(made.values())
    assert made["monthly"].language == "de"
    assert made["known"].internal
    assert not made["component"].internal
    assert made["component"].subject == COMPONENT
    assert made["known"].as_known == date(2026, 6, 30)
    assert len({one.settings for one in made.values()}) == 1
    assert made["monthly"].inputs.batches > 3


def test_no_file_name_stands_in_a_page_that_leaves(
    filled: Path, pages: dict[str, Path]
) -> None:
    names = [path.name for path in (filled / "inbox").iterdir()]
    assert names
    for page in ("component", "supplier"):
        text = pages[page].read_text("utf-8")
        assert not [name for name in names if name in text]


def test_a_changed_text_is_seen(own: Path, pages: dict[str, Path]) -> None:
    page = own / "out" / pages["component"].name
    text = page.read_text("utf-8")
    page.write_text(text.replace("</main>", "<p>All is well.</p></main>"), "utf-8")
    told = verify(own, page, 1)
    assert told["seal"]["note"] == "the text of the page was changed after it was made"
    assert told["figures"]["state"] == "same"
    assert told["page"]["state"] == "differs"
    # whoever seals it again does not get past the warehouse
    page.write_text(sealed(page.read_text("utf-8")), "utf-8")
    told = verify(own, page, 1)
    assert told["seal"]["state"] == "same"
    assert "sealed again" in told["page"]["note"]


def test_files_loaded_since_are_named_and_the_figures_of_then_compared(
    own: Path, pages: dict[str, Path]
) -> None:
    units = pd.read_csv(own / "inbox" / "units.csv", dtype="str")
    sold = units[units["in_service_date"].fillna("") >= "2025-06-01"]
    late = own / "late_claims.csv"
    late.write_text(
        "claim_no,reported_on,failed_on,serial,narrative,technician_note,status\n"
        f"LATE-1,2026-04-20,2026-04-19,{sold['serial'].iloc[0]},vehicle stops,"
        "wiring harness chafed through,approved\n",
        "utf-8",
    )
    known = ("--known-on", "2027-01-31")
    assert run("ingest", late, *known, "--workspace", own).exit_code == 0
    told = verify(own, own / "out" / pages["component"].name, 1)
    assert told["inputs"]["note"] == "loaded since: late_claims.csv"
    assert told["figures"]["state"] == "differs"
    [then] = [row for what, row in told.items() if what.startswith("figures known by")]
    assert then["state"] == "same"
    # a report by what was known stays what it was
    verify(own, own / "out" / pages["known"].name)


def test_changed_settings_are_named(own: Path, pages: dict[str, Path]) -> None:
    toml = own / "claimlens.toml"
    text = toml.read_text("utf-8")
    toml.write_text(text.replace("[rates]", "[rates]\nconfidence = 0.9"), "utf-8")
    page = own / "out" / pages["component"].name
    result = run("verify", page, "--workspace", own)
    assert result.exit_code == 1
    assert "the settings were changed" in result.stderr
    assert "to do:" in result.stderr
    assert result.stderr.count("claimlens:") == 1


def test_a_subject_that_is_gone_is_told(own: Path, pages: dict[str, Path]) -> None:
    page = own / "out" / pages["component"].name
    text = page.read_text("utf-8").replace(
        f'content="{COMPONENT}"', 'content="flux capacitor"'
    )
    page.write_text(sealed(text), "utf-8")
    told = verify(own, page, 1)
    assert told["page"]["state"] == "not made"
    assert "There is no component 'flux capacitor'" in told["page"]["note"]


HOSTILE = {
    "empty": b"",
    "a picture": b"\x89PNG\r\n\x1a\n\x00\xff",
    "another page": b"<html><head></head><body>claims</body></html>",
    "an older page": b'<meta name="claimlens-made" content="2026-04-30 0.1.0 ab cd">',
    "tags without end": b'<meta name="claimlens-report" content="' * 50_000,
    "a bomb of entities": b'<meta name="claimlens-report" content="'
    + b"&amp;" * 100_000
    + b'">',
}


@pytest.mark.parametrize("name", list(HOSTILE))
def test_what_is_no_report_is_refused_in_one_message(
    filled: Path, tmp_path: Path, name: str
) -> None:
    page = tmp_path / "page.html"
    page.write_bytes(HOSTILE[name])
    result = run("verify", page, "--workspace", filled)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "This is no report that can be verified" in result.stderr
    assert "to do: name the .html page" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("path", ["missing.html", "."])
def test_what_cannot_be_read_is_refused(
    filled: Path, tmp_path: Path, path: str
) -> None:
    result = run("verify", tmp_path / path, "--workspace", filled)
    assert result.exit_code == 2
    assert "The report cannot be read" in result.stderr
