"""A planted fault and a change are found through files, and a quiet fleet is left."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "studies"))

from study_rising_fleets import Plan, one_world


def test_a_planted_window_and_a_change_are_found() -> None:
    plan = Plan(
        name="planted",
        units=12_000,
        models=3,
        window=("connector", date(2025, 1, 1), date(2025, 4, 1)),
        change=("battery pack", date(2022, 4, 1)),
    )
    found = one_world(plan, seed=501)
    assert found["level"] in {"watch", "alarm"}
    assert found["signal_overlap"] >= 0.6  # type: ignore[operator]
    assert found["window_overlap"] >= 0.6  # type: ignore[operator]
    assert found["held"]
    assert found["verdict"] == "improved"
    assert found["false_alarms"] <= 1  # type: ignore[operator]


def test_a_quiet_fleet_raises_next_to_nothing() -> None:
    found = one_world(Plan(name="quiet", units=9_000, models=2), seed=601)
    assert found["false_alarms"] <= 1  # type: ignore[operator]
    assert found["standing_alarms"] == 0
