"""Causes of ten symptoms against a count over the open views of the demo."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd
import pytest

import claimlens

AS_OF = "2026-04-30"
# What a person asks, and the keys that the complaint stands under.
SYMPTOMS = {
    "display dead": ["display/no power"],
    "motor noise": ["motor/noise/vibration"],
    "battery range reduced": ["battery pack/reduced performance"],
    "brake squeaks": ["brake pad/rotor/noise/vibration"],
    "dead light": ["headlight/no power", "rear light/no power"],
    "chain broken": ["drivetrain/broken/cracked"],
    "throttle intermittent": ["throttle/intermittent"],
    "charger dead": ["charger/no power"],
    "headlight water": ["headlight/water ingress"],
    "Display tot": ["display/no power"],
}


@pytest.fixture(scope="module")
def told(demo: Path) -> pd.DataFrame:
    """Return the claims of the demo as anyone may read them."""
    path = str(demo / "warehouse.duckdb")
    with duckdb.connect(path, read_only=True) as connection:
        return connection.execute(
            "select classified.component, classified.failure_mode, "
            "classified.source, classified.symptoms from classified_now as classified "
            "join claims_now as claims using (claim_no) "
            f"where claims.reported_on <= date '{AS_OF}'"
        ).df()


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_causes_agree_with_a_count_by_hand(
    demo: Path, told: pd.DataFrame, symptom: str
) -> None:
    keys = set(SYMPTOMS[symptom])
    has_it = told["symptoms"].map(lambda text: not keys.isdisjoint(text.split("; ")))
    established = told["source"].isin(["label", "finding", "part"])
    own = told[has_it & established]
    by_hand = own.groupby(["component", "failure_mode"]).size().to_dict()
    result = claimlens.open(demo).causes(symptom, as_of=AS_OF)
    assert set(result["matched"]) == {len(own)}
    assert len(own) >= 20
    counted = result[result["claims"] > 0]
    pairs = zip(counted["component"], counted["failure_mode"], strict=True)
    assert dict(zip(pairs, counted["claims"].tolist(), strict=True)) == by_hand
    inside = (counted["lower"] <= counted["share"]) & (
        counted["share"] <= counted["upper"]
    )
    assert inside.all()
