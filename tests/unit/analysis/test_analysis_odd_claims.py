"""Questions on claims and dealers: asked where planted, and nowhere else."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from fleet_maker import Fleet, shuffled, workspace_of
from rising_maker import add_claim, rising_fleet

from claimlens import handover
from claimlens.analysis.odd_claims import ODD_COLUMNS
from claimlens.workspace import Workspace

AS_OF = date(2025, 3, 31)
PLAIN = '[classify]\nlanguages = ["en"]\n[rates]\nlag_claims = 1000000\n'
TWICE = "one claim under two numbers?"
SOUND = "why are so many returned parts sound?"
BACK = "why do so many repairs come back?"


def quiet_fleet() -> Fleet:
    """Draw a fleet whose claims of a unit and component lie far apart."""
    made = rising_fleet(31, months=36, a_month=60)
    for number, claim in enumerate(made.claims):
        if number % 2:
            continue
        made.findings.append(
            {
                "claim_no": claim["claim_no"],
                "inspected_on": claim["reported_on"],
                "part_no": "P-1",
                "finding": "no fault found" if number % 20 == 0 else "confirmed fault",
            }
        )
    return made


def planted_fleet() -> Fleet:
    """Add a dealer of sound parts, one whose repairs come back, and double claims."""
    made = quiet_fleet()
    for unit in made.units[200:216]:
        unit["dealer"] = "D-sound"
        day = unit["in_service_date"] + timedelta(days=60)  # type: ignore[operator]
        claim = add_claim(made, unit, "motor", day, day)
        made.findings.append(
            {
                "claim_no": claim["claim_no"],
                "inspected_on": day,
                "part_no": "P-1",
                "finding": "no fault found",
            }
        )
    for unit in made.units[300:312]:
        unit["dealer"] = "D-back"
        day = unit["in_service_date"] + timedelta(days=60)  # type: ignore[operator]
        add_claim(made, unit, "rear light", day, day)
        again = day + timedelta(days=45)
        add_claim(made, unit, "rear light", again, again)
    unit = made.units[400]
    day = unit["in_service_date"] + timedelta(days=90)  # type: ignore[operator]
    add_claim(made, unit, "display", day, day)
    twice = add_claim(made, unit, "display", day + timedelta(days=6), day)
    twice["reported_on"] = day + timedelta(days=9)
    twice["cost_total"] = "71.25"
    # far enough apart to be two, and one that was never paid
    later = day + timedelta(days=21)
    add_claim(made, unit, "display", later, later)
    refused = add_claim(made, made.units[401], "motor", day, day)
    refused["status"] = "denied"
    add_claim(made, made.units[401], "motor", day, day + timedelta(days=1))
    return made


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(planted_fleet(), tmp_path_factory.mktemp("odd") / "ws", PLAIN)


@pytest.fixture(scope="module")
def table(workspace: Workspace) -> pd.DataFrame:
    return workspace.odd_claims(as_of=AS_OF)


def test_nothing_is_asked_of_a_quiet_fleet(tmp_path: Path) -> None:
    made = quiet_fleet()
    table = workspace_of(made, tmp_path / "ws", PLAIN).odd_claims(as_of=AS_OF)
    assert list(table.columns) == list(ODD_COLUMNS)
    assert table.empty


def test_a_claim_under_two_numbers_is_asked_about(table: pd.DataFrame) -> None:
    twice = table[table["question"] == TWICE]
    assert len(twice) == 1
    row = twice.iloc[0]
    assert row["serial"] == "S00400"
    assert row["component"] == "display"
    assert row["cost"] == pytest.approx(71.25)
    assert len(row["claims"].split()) == 2
    assert "6 days apart" in row["note"]


def test_dealers_out_of_line_are_asked_about(table: pd.DataFrame) -> None:
    sound = table[table["question"] == SOUND]
    assert sound["dealer"].tolist() == ["D-sound"]
    row = sound.iloc[0]
    assert row["observed"] == 16
    assert row["expected"] < row["observed"] / 1.5
    assert 1 < row["lower"] < row["ratio"] < row["upper"]
    assert row["cost"] == pytest.approx(40.50 * row["observed"])
    assert row["claims"].count("C") == row["observed"]
    back = table[table["question"] == BACK]
    assert back["dealer"].tolist() == ["D-back"]
    assert back.iloc[0]["observed"] == 12


def test_filters_earlier_cut_offs_json_and_the_order_of_rows(
    workspace: Workspace, table: pd.DataFrame, tmp_path: Path
) -> None:
    part = workspace.odd_claims(as_of=AS_OF, model="Scooter")
    assert set(part[part["question"] == TWICE]["serial"]) == set()
    early = workspace.odd_claims(as_of=date(2021, 7, 31))
    assert set(early["question"]) <= {TWICE}
    text = handover.to_json(handover.records(table))
    assert "NaN" not in text
    assert len(json.loads(text)) == len(table)
    other = workspace_of(shuffled(planted_fleet(), 9), tmp_path / "ws", PLAIN)
    pd.testing.assert_frame_equal(other.odd_claims(as_of=AS_OF), table)
