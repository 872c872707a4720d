"""What was known by a date is what an earlier warehouse said."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from load_desk import Desk

from claimlens import handover
from claimlens.errors import ClaimlensError

JANUARY, FEBRUARY = date(2025, 1, 31), date(2025, 2, 28)


def units(n: int) -> list[dict[str, object]]:
    first = date(2024, 1, 1)
    return [
        {
            "serial": f"S{k}",
            "model": "Trike" if k % 2 else "Hauler",
            "model_year": 2024,
            "ship_date": first + timedelta(days=3 * k),
            "in_service_date": first + timedelta(days=3 * k + 20) if k % 4 else None,
        }
        for k in range(n)
    ]


def claims(n: int, *, late: int = 0) -> list[dict[str, object]]:
    return [
        {
            "claim_no": f"C{k}",
            "serial": f"S{2 * k}",
            "failed_on": date(2024, 10, 1) + timedelta(days=k),
            "reported_on": date(2024, 10, 5) + timedelta(days=k + late),
            "status": "closed",
            "technician_note": "display dead, harness chafed" if k % 2 else "flat tyre",
        }
        for k in range(n)
    ]


def answers(desk: Desk, as_known: date | None) -> str:
    workspace = desk.workspace
    frames = [
        workspace.rates(by="model,component", as_known=as_known),
        workspace.life(by=["model"], as_known=as_known),
        workspace.classify(as_known=as_known),
        workspace.predelivery(as_known=as_known),
    ]
    return "\n".join(handover.to_json(handover.records(frame)) for frame in frames)


def test_as_known_gives_the_bytes_of_the_earlier_warehouse(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    desk.load("units_1.csv", units(60), JANUARY)
    desk.load("claims_1.csv", claims(20), JANUARY)
    before = answers(desk, None)
    assert answers(desk, JANUARY) == before
    changed = claims(26, late=9)
    changed[3]["status"] = "denied"
    changed[4]["technician_note"] = "battery swollen"
    later = units(80)
    later[6]["in_service_date"] = date(2024, 3, 1)
    later[9]["retired_on"] = date(2024, 12, 1)
    desk.load("claims_2.csv", changed, FEBRUARY)
    desk.load("units_2.csv", later, FEBRUARY)
    desk.load(
        "labels.csv",
        [
            {
                "claim_no": "C1",
                "component": "tyre/tube",
                "failure_mode": "worn",
                "reviewer": "R. Viewer",
                "reviewed_on": FEBRUARY,
            }
        ],
    )
    desk.load(
        "findings.csv",
        [{"claim_no": "C2", "inspected_on": FEBRUARY, "finding": "no fault found"}],
    )
    assert answers(desk, None) != before
    assert answers(desk, JANUARY) == before
    assert answers(desk, FEBRUARY) == answers(desk, None)


def test_an_old_export_found_late_enters_what_was_known_then(tmp_path: Path) -> None:
    desk, honest = Desk(tmp_path / "late"), Desk(tmp_path / "honest")
    for each in (desk, honest):
        each.load("units.csv", units(60), JANUARY)
    honest.load("claims_1.csv", claims(20), JANUARY)
    desk.load("claims_2.csv", claims(26, late=9), FEBRUARY)
    desk.load("claims_1.csv", claims(20), JANUARY)
    assert answers(desk, JANUARY) == answers(honest, None)


def test_known_on_is_the_newest_date_of_the_file(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    rows = claims(5)
    desk.load("claims.csv", rows)
    (known,) = desk.query("select known_on from batches")
    assert known == (max(row["reported_on"] for row in rows),)


def test_nothing_known_by_then_is_said_in_words(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    desk.load("units.csv", units(10), JANUARY)
    desk.load("claims.csv", claims(5), JANUARY)
    with pytest.raises(ClaimlensError) as caught:
        desk.workspace.rates(as_known=date(2023, 1, 1))
    assert "no claim" in str(caught.value).lower()
