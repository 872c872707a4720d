"""``claimlens report component``: the page, its figures, and what it refuses."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

import claimlens
from claimlens.cli import app
from claimlens.report import formats
from claimlens.workspace import Workspace

AS_OF = "2026-04-30"
COMPONENT = "connector"


def invoke(folder: Path, *arguments: str) -> tuple[int, str]:
    told = ["report", "component", *arguments, "--workspace", str(folder)]
    result = CliRunner().invoke(app, told)
    return result.exit_code, result.output


@pytest.fixture(scope="module")
def workspace(filled: Path) -> Workspace:
    return claimlens.open(filled)


@pytest.fixture(scope="module")
def written(filled: Path) -> Path:
    code, output = invoke(filled, COMPONENT, "--as-of", AS_OF)
    assert code == 0, output
    return Path(output.split()[0])


@pytest.fixture(scope="module")
def page(written: Path) -> str:
    return written.read_text(encoding="utf-8")


def table(page: str, name: str) -> list[list[str]]:
    """Return the printed cells of a table's body."""
    body = page.split(f'<table id="{name}">')[1].split("</table>", maxsplit=1)[0]
    body = body.split("<tbody>")[1].split("</tbody>")[0]
    return [
        [
            unescape(re.sub(r"<[^>]+>", "", cell))
            for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)
        ]
        for row in body.split("</tr>")
        if "<t" in row
    ]


def test_the_page_lands_in_out_under_a_plain_name(written: Path, filled: Path) -> None:
    assert written == filled / "out" / f"component-connector-{AS_OF}.html"


def test_two_runs_give_the_same_bytes(
    workspace: Workspace, written: Path, tmp_path: Path
) -> None:
    again = workspace.report_component(COMPONENT, tmp_path / "a.html", as_of=AS_OF)
    assert again.read_bytes() == written.read_bytes()


def test_rates_are_those_of_the_question(workspace: Workspace, page: str) -> None:
    asked = workspace.rates(component=COMPONENT, as_of=AS_OF)
    unit = formats.rate_unit(asked["rate"])
    assert [row[1:5] for row in table(page, "rates-table")] == [
        [
            formats.count(row["units"]),
            formats.count(row["claims"]),
            formats.rate(row["rate"], unit),
            formats.interval(row["lower"], row["upper"], unit),
        ]
        for row in asked.to_dict("records")
    ]


def test_lives_are_those_of_the_question(workspace: Workspace, page: str) -> None:
    [asked] = workspace.life(component=COMPONENT, as_of=AS_OF).to_dict("records")
    printed = {row[0]: row[1] for row in table(page, "life-table")}
    assert printed["shape (β)"] == formats.decimal_text(asked["shape"], 2)
    assert printed["failures"] == formats.count(asked["failures"])
    assert printed["pattern"] == asked["pattern"]


def test_claims_to_come_are_those_of_the_question(
    workspace: Workspace, page: str
) -> None:
    asked = workspace.forecast(component=COMPONENT, as_of=AS_OF)
    total = workspace.forecast(component=COMPONENT, as_of=AS_OF, total=True).iloc[0]
    rows = table(page, "to-come-table")
    assert [row[1] for row in rows] == [
        formats.decimal_text(claims, 1) for claims in asked["claims"]
    ]
    assert rows[-1][4] == formats.decimal_text(total["claims"], 1)
    low = formats.decimal_text(total["lower80"], 0, "lower")
    high = formats.decimal_text(total["upper80"], 0, "upper")
    assert rows[-1][5] == f"{low}–{high}"


def test_the_reserve_is_that_of_the_question(workspace: Workspace, page: str) -> None:
    asked = workspace.reserve(component=COMPONENT, as_of=AS_OF)
    assert [row[:2] for row in table(page, "reserve-table")] == [
        [row["part"], formats.decimal_text(row["claims"], 1)]
        for row in asked.to_dict("records")
    ]


def test_modes_and_classes_add_up_to_the_claims(
    workspace: Workspace, page: str
) -> None:
    tally = workspace.tally(by="component", as_of=AS_OF).set_index("component")
    claims = int(tally["claims"][COMPONENT])
    for name in ("modes-table", "classes-table"):
        assert sum(int(row[1].replace(",", "")) for row in table(page, name)) == claims
    assert f"{claims:,} of {tally['claims'].sum():,} claims" in page


def test_repairs_are_those_of_the_question(workspace: Workspace, page: str) -> None:
    asked = workspace.repeats(component=COMPONENT, as_of=AS_OF)
    assert [row[1:4] for row in table(page, "repeats-table")] == [
        [formats.count(row[name]) for name in ("units", "events", "repeats")]
        for row in asked.to_dict("records")
    ]
    first = asked.iloc[0]
    assert f"{first['no_fault_found']} of {first['inspected']} inspected" in page


def test_a_change_is_judged_as_its_question_judges_it(
    workspace: Workspace, page: str
) -> None:
    [row] = table(page, "engineering-changes-table")
    asked = workspace.change(row[0], as_of=AS_OF).iloc[0]
    assert row[3] == asked["verdict"]
    assert row[6] == (
        f"{formats.count(asked['claims_after'])} of "
        f"{formats.count(asked['units_after'])}"
    )


def test_claims_by_age_add_up_to_the_first_failures(
    workspace: Workspace, page: str
) -> None:
    """Months in which too few units are watched have no bar."""
    life = workspace.life(component=COMPONENT, as_of=AS_OF).iloc[0]
    ages = table(page, "failures-by-age-table")
    seen = sum(int(row[1].replace(",", "")) for row in ages)
    assert seen >= 0.9 * float(life["failures"])


def test_an_unknown_component_offers_the_nearest(filled: Path) -> None:
    code, output = invoke(filled, "wire harnessing")
    assert code == 2
    assert "There is no component 'wire harnessing'" in output
    assert "did you mean 'wiring harness'?" in output
    assert "Traceback" not in output


def test_a_component_nobody_claimed_gets_a_page_that_says_so(filled: Path) -> None:
    """At this early cut-off the tracker has not been claimed yet."""
    counts = claimlens.open(filled).tally(by="component", as_of="2021-03-31")
    assert "tracker/alarm" not in set(counts["component"])
    code, output = invoke(filled, "tracker/alarm", "--as-of", "2021-03-31")
    assert code == 0, output
    page = Path(output.split()[0]).read_text(encoding="utf-8")
    assert "No claim of the tracker/alarm was reported up to the cut-off" in page
    assert "<table id=" not in page


def test_the_workbook_beside_it_has_every_unit_at_risk(
    workspace: Workspace, written: Path
) -> None:
    windows = workspace.windows(component=COMPONENT, as_of=AS_OF)
    shown = windows[windows["p_value"] <= 0.05]
    sheets = pd.read_excel(
        written.with_suffix(".xlsx"), sheet_name=None, header=None, engine="calamine"
    )
    assert "Units at risk" in sheets
    cells = sheets["Units at risk"].astype(str).to_numpy().ravel().tolist()
    listed = sum(cell in ("not yet failed", "not in service yet") for cell in cells)
    assert bool(listed) == bool(len(shown))
    asked = workspace.rates(component=COMPONENT, as_of=AS_OF)["rate"].dropna()
    told = sheets["Rates by age"]
    place = told.iloc[0].tolist().index("rate")
    assert told.iloc[1:, place].tolist() == pytest.approx(asked.tolist())


def test_the_tables_come_as_one_document_too(filled: Path) -> None:
    code, output = invoke(filled, COMPONENT, "--as-of", AS_OF, "--format", "json")
    assert code == 0, output
    told = json.loads(output)
    assert told["report"] == "component"
    assert told["about"]["component"] == COMPONENT
    assert told["tables"]["rates-by-age"]["columns"]["rate"] == "share"
    assert told["tables"]["lives"]["rows"][0]["failures"] > 0


def test_a_file_that_is_there_is_kept(filled: Path, tmp_path: Path) -> None:
    there = tmp_path / "page.html"
    there.write_text("mine", encoding="utf-8")
    code, output = invoke(filled, COMPONENT, "--output", str(there))
    assert code == 2
    assert "The file is there already." in output
    assert there.read_text(encoding="utf-8") == "mine"


def test_an_internal_page_has_its_own_file_and_its_serials(
    filled: Path, workspace: Workspace
) -> None:
    code, output = invoke(filled, COMPONENT, "--as-of", AS_OF, "--internal")
    assert code == 0, output
    assert output.split()[0].endswith(f"component-connector-{AS_OF}-internal.html")
    inside = Path(output.split()[0]).read_text(encoding="utf-8")
    assert "not to leave the company" in inside
    listed: pd.DataFrame = workspace.repeat_units(
        least=2, component=COMPONENT, as_of=AS_OF
    )
    assert all(serial in inside for serial in listed["serial"].head(20))
