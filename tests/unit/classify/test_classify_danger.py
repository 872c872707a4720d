"""Danger is put in front of a person; a denial is respected."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

Run = Callable[..., pd.Series]


@pytest.mark.parametrize(
    "text",
    [
        "My daughter was injured.",
        "The battery caught fire in the garage.",
        "Smoke came out of the seat.",
        "The plug has melted.",
        "The battery pack is swollen.",
        "The battery is bulging.",
        "I got an electric shock from the frame.",
        "The brakes failed on the hill.",
        "Brakes don't work.",
        "Brake lever can be pulled to the grip.",
        "Could not steer any more, the steering locked.",
        "The scooter accelerated by itself.",
        "Motor keeps running after I release the throttle.",
        "The frame is cracked.",
        "The fork snapped.",
        "The handlebar came off.",
        "The front wheel collapsed.",
        "The seatpost broke off.",
        "No smoke, but the battery is swollen.",
        "It does not brake.",
    ],
)
def test_a_danger_is_flagged(one: Run, text: str) -> None:
    assert one(text)["safety"] == "yes"


@pytest.mark.parametrize(
    "text",
    [
        "The display is dead. No smoke, no fire, nobody was hurt.",
        "Charger dead, no smoke, fire or injury.",
        "The mudguard rattles.",
        "The battery does not last long. It is not swollen.",
        "Chain worn.",
        "Flat tyre.",
        "",
    ],
)
def test_no_danger_is_read_where_none_is_told(one: Run, text: str) -> None:
    assert one(text)["safety"] == "no"


def test_a_finding_of_a_broken_frame_is_dangerous_without_a_text(one: Run) -> None:
    finding = {
        "finding": "confirmed fault",
        "component": "frame",
        "failure_mode": "broken/cracked",
    }
    row = one(findings=[finding])
    assert (row["component"], row["safety"]) == ("frame", "yes")


def test_the_evidence_names_the_danger(one: Run) -> None:
    assert "danger: narrative: smoke" in one("There was smoke.")["evidence"]
