"""One unit: cover at the limits, history, changes, parts, and what cannot be said."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from fleet_maker import Fleet, Row, random_fleet, workspace_of, write_csv

from claimlens import handover
from claimlens.analysis.question import ask
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2024, 12, 31)
PARTS: list[Row] = [
    {
        "part_no": "D-1",
        "description": "display, first",
        "component": "display",
        "generation": "G1",
        "superseded_by": "D-2",
    },
    {
        "part_no": "D-2",
        "description": "display, second",
        "component": "display",
        "generation": "G2",
        "superseded_by": "D-3",
    },
    {"part_no": "D-3", "component": "display", "generation": "G3"},
    {"part_no": "M-1", "component": "motor", "fits_model": "Brumelo T3"},
    {"part_no": "M-2", "component": "motor", "fits_model": "Zellip S1"},
    {"part_no": "H-1", "component": "headlight", "superseded_by": "H-2"},
    {"part_no": "H-2", "component": "headlight", "superseded_by": "H-1"},
    {"part_no": "S-1", "component": "speed sensor", "fits_to_year": 2021},
    {"part_no": "S-2", "component": "speed sensor", "fits_from_year": 2022},
    {"part_no": "T-1", "component": "throttle", "superseded_by": "T-9"},
]
CHANGES: list[Row] = [
    {"change_no": "C1", "component": "display", "effective_build_date": "2022-06-01"},
    {"change_no": "C2", "component": "motor", "effective_build_date": "2023-06-01"},
    {"change_no": "C3", "component": "motor", "effective_serial": "A1"},
    {
        "change_no": "C4",
        "component": "frame",
        "model": "Zellip S1",
        "effective_build_date": "2020-01-01",
    },
    {"change_no": "C5", "component": "throttle", "effective_build_date": "2024-01-01"},
    {"change_no": "C6", "component": "throttle"},
]


def unit(serial: str, **more: object) -> Row:
    return {
        "serial": serial,
        "model": "Brumelo T3",
        "model_year": 2022,
        "generation": "G1",
        "build_date": date(2022, 6, 1),
        "ship_date": date(2022, 7, 1),
        "in_service_date": date(2022, 8, 31),
        "region": "DE",
        **more,
    }


def claim(number: str, serial: str, day: date, component: str) -> Row:
    return {
        "claim_no": number,
        "serial": serial,
        "reported_on": day + timedelta(days=2),
        "failed_on": day,
        "narrative": f"The {component} is dead.",
        "status": "closed",
    }


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    units = [
        unit("A1"),
        unit("A2", in_service_date=date(2024, 1, 15), build_date=date(2022, 5, 31)),
        unit("A3", in_service_date=None, ship_date=date(2023, 1, 1)),
        unit("A4", in_service_date=None, ship_date=None, build_date=None),
        unit("B1", model="Zellip S1", generation=None, model_year=2021),
    ]
    claims = [
        claim("K1", "A1", date(2024, 8, 31), "display"),
        claim("K2", "A1", date(2024, 9, 1), "motor"),
        claim("K3", "a1", date(2024, 9, 20), "display"),
        claim("K4", "A1", date(2024, 9, 22), "display"),
        claim("K5", "ZZ-unknown-7", date(2024, 3, 1), "motor"),
    ]
    folder = tmp_path_factory.mktemp("unit") / "ws"
    workspace = workspace_of(
        Fleet(units, claims),
        folder,
        '[classify]\nlanguages = ["en"]\n'
        '[[coverage.terms]]\ncomponent = "motor"\nmonths = 36\n',
        load=False,
    )
    write_csv(folder / "inbox" / "parts.csv", PARTS)
    write_csv(folder / "inbox" / "changes.csv", CHANGES)
    write_csv(
        folder / "inbox" / "unit_changes.csv",
        [{"serial": "A1", "change_no": "C5", "done_on": "2024-05-05"}],
    )
    workspace.ingest()
    return workspace


def asked(workspace: Workspace, serial: str) -> dict[str, Any]:
    return dict(workspace.unit(serial, as_of=AS_OF))


def test_the_last_day_of_cover_is_covered(workspace: Workspace) -> None:
    answer = asked(workspace, "A1")
    assert answer["coverage_end"] == date(2024, 8, 31)
    assert answer["covered"] is False
    assert "24 months from 2022-08-31" in answer["coverage_reason"]
    covered = {row["claim_no"]: row["covered"] for row in answer["claims"]}
    assert covered == {"K1": True, "K2": True, "K3": False, "K4": False}
    assert answer["covers"] == [
        {
            "component": "motor",
            "coverage_end": date(2025, 8, 31),
            "covered": True,
        }
    ]


def test_claims_come_oldest_first_with_their_repeats(workspace: Workspace) -> None:
    claims = asked(workspace, " a1 ")["claims"]
    assert [(row["claim_no"], row["repeat"]) for row in claims] == [
        ("K1", False),
        ("K2", False),
        ("K3", True),
        ("K4", False),  # within three days: the same event
    ]
    assert claims[0]["component"] == "display"


def test_a_date_that_is_missing_is_estimated_and_said_so(workspace: Workspace) -> None:
    answer = asked(workspace, "A3")
    # its model came into service 61 and 563 days after shipping
    assert answer["in_service_source"] == "estimated"
    assert answer["in_service_date"] == date(2023, 1, 1) + timedelta(days=312)
    assert "estimated" in answer["note"]
    nothing = asked(workspace, "A4")
    assert nothing["in_service_date"] is None
    assert nothing["covered"] is None
    assert nothing["coverage_reason"] == "the first day in service is not known"


def test_changes_are_told_by_build_date_serial_and_field(workspace: Workspace) -> None:
    states = {r["change_no"]: r["state"] for r in asked(workspace, "A1")["changes"]}
    assert states == {
        "C1": "built so",
        "C2": "lacks it",
        "C3": "built so",
        "C5": "changed in the field",
        "C6": "not known",
    }
    before = {r["change_no"]: r["state"] for r in asked(workspace, "A2")["changes"]}
    assert before["C1"] == "lacks it"
    assert before["C3"] == "lacks it"
    assert before["C5"] == "lacks it"


def test_parts_follow_supersession_generation_and_year(workspace: Workspace) -> None:
    parts = {
        row["part_no"]: (row["component"], row["replaces"], row["note"])
        for row in asked(workspace, "A1")["parts"]
    }
    assert parts["D-3"][:2] == ("display", "D-1, D-2")
    assert "check the fit" in parts["D-3"][2]
    assert parts["M-1"] == ("motor", None, "")
    assert "M-2" not in parts
    assert parts["S-2"] == ("speed sensor", None, "")
    assert "S-1" not in parts
    assert parts["T-9"] == ("throttle", "T-1", "not in the parts list")
    assert "circle" in parts["H-1"][2]
    assert "circle" in parts["H-2"][2]


def test_a_unit_that_only_claims_know_is_answered(workspace: Workspace) -> None:
    answer = asked(workspace, "zz-unknown-7")
    assert [row["claim_no"] for row in answer["claims"]] == ["K5"]
    assert "register does not hold" in answer["note"]


def test_an_unknown_serial_offers_the_nearest(workspace: Workspace) -> None:
    with pytest.raises(InputError, match=r"no claim has the serial 'A9'") as refused:
        asked(workspace, "A9")
    assert "did you mean A1, A2, A3, A4?" in str(refused.value)
    with pytest.raises(InputError, match="no other one looks like it"):
        asked(workspace, "completely-different")


def test_nothing_after_the_cut_off_is_told(workspace: Workspace) -> None:
    answer = dict(workspace.unit("A1", as_of=date(2024, 9, 10)))
    assert [row["claim_no"] for row in answer["claims"]] == ["K1", "K2"]


def test_the_answer_is_one_object_without_nan(workspace: Workspace) -> None:
    text = handover.to_json(handover.nested(asked(workspace, "B1")))
    assert json.loads(text)["serial"] == "B1"
    assert "NaN" not in text


def test_a_symptom_adds_what_to_check(workspace: Workspace) -> None:
    answer = dict(workspace.unit("A1", symptom="display dead", as_of=AS_OF))
    assert isinstance(answer["checks"], list)


def test_cover_agrees_with_the_rates_for_every_unit(tmp_path: Path) -> None:
    """The tables of one unit give what those of the whole fleet give."""
    fleet = random_fleet(5, n_units=60)
    whole = workspace_of(fleet, tmp_path / "ws")
    question = {"as_of": AS_OF}
    with whole._reading(ask(**question)) as (session, _):
        claims = session.frame("marts/unit_claims", {"same_event_days": 3})
        covered = dict(zip(claims["claim_no"], claims["is_covered"], strict=True))
    seen = 0
    serials = sorted({str(row["serial"]) for row in fleet.units})[:25]
    for serial in serials:
        for row in dict(whole.unit(serial, **question))["claims"]:  # type: ignore[arg-type]
            assert bool(covered[row["claim_no"]]) == row["covered"]
            seen += 1
    assert seen > 10
