"""An invented maker's claims for the learned model: own words for its parts."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.classify.learned import Lesson

# names that no terms know, and what each stands for
NAMES = {
    "kneya": "controller",
    "pikto": "display",
    "calpo": "brake hydraulic",
    "gibbo": "drivetrain",
    "krake": "wiring harness",
}
FAULTS = {
    "no longer does what it should": "no power",
    "quits and comes back": "intermittent",
    "has had it since monday": "no power",
    "is not what it was": "reduced performance",
}
NOTHING = pd.DataFrame(columns=["claim_no"])
NO_UNITS = pd.DataFrame(columns=["claim_no", "model", "model_year"])
NOT_DECIDED = pd.DataFrame(
    columns=["claim_no", "component", "failure_mode", "source", "inspected_on"]
)


def made_up(n: int, seed: int, *, first: int = 0) -> pd.DataFrame:
    """Return claims in the maker's own words with their truth."""
    draw = np.random.default_rng(seed)
    names, faults = list(NAMES), list(FAULTS)
    rows = []
    for number in range(first, first + n):
        name = names[int(draw.integers(len(names)))]
        fault = faults[int(draw.integers(len(faults)))]
        rows.append(
            {
                "claim_no": f"C{number:04d}",
                "reported_on": f"2026-0{1 + number % 5}-15",
                "narrative": f"unit {number % 97}: the {name} {fault}",
                "technician_note": None,
                "resolution": None,
                "component": NAMES[name],
                "failure_mode": FAULTS[fault],
            }
        )
    return pd.DataFrame(rows)


def labels_of(claims: pd.DataFrame) -> pd.DataFrame:
    """Return the truth of claims as the labels of one reviewer."""
    named = claims[["claim_no", "component", "failure_mode"]]
    return named.assign(
        reviewer="ann", reviewed_on="2026-06-02", known_on="2026-06-03"
    ).reset_index(drop=True)


def lesson_of(
    claims: pd.DataFrame,
    labelled: pd.DataFrame,
    *,
    decided: pd.DataFrame = NOT_DECIDED,
    parts: pd.DataFrame = NOTHING,
) -> Lesson:
    """Return the frames that a model is trained from."""
    return Lesson(
        texts=claims.drop(columns=["component", "failure_mode"]),
        parts=parts,
        findings=NOTHING,
        labels=labels_of(labelled),
        decided=decided,
        units=NO_UNITS,
    )
