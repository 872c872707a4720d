"""Right, wrong and abstained shares on labelled texts, both halves.

The texts were written and labelled before the terms were tuned, and split by
the SHA-256 of the text; the terms were tuned on the development half only.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pandas as pd
import pytest

from claimlens.classify.decide import classify
from claimlens.classify.terms import Terms

HERE = Path(__file__).parent


def classified(name: str, terms: Terms) -> pd.DataFrame:
    """Classify one half as bare narratives, the wanted answers beside it."""
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    claims = pd.DataFrame(
        {
            "claim_no": [f"{number:04d}" for number in range(len(rows))],
            "narrative": [row["text"] for row in rows],
            "technician_note": None,
            "resolution": None,
        }
    )
    nothing = pd.DataFrame(columns=["claim_no"])
    result = classify(claims, nothing, nothing, nothing, terms=terms)
    for column in ("component", "failure_mode", "safety"):
        result[f"wanted_{column}"] = [row[column] for row in rows]
    return result


@pytest.mark.parametrize("name", ["texts_dev.csv", "texts_test.csv"])
def test_components_and_modes_are_read_within_the_bounds(
    terms: Terms, name: str
) -> None:
    result = classified(name, terms)
    right = result["component"] == result["wanted_component"]
    wrong = ~right & (result["component"] != "unclassified")
    mode = result["failure_mode"] == result["wanted_failure_mode"]
    assert len(result) > 100
    assert right.mean() >= 0.85
    assert wrong.mean() <= 0.05
    assert mode[right].mean() >= 0.80


@pytest.mark.parametrize("name", ["texts_dev.csv", "texts_test.csv"])
def test_dangerous_claims_are_found_before_precision(terms: Terms, name: str) -> None:
    result = classified(name, terms)
    wanted = result["wanted_safety"] == "yes"
    found = result["safety"] == "yes"
    assert wanted.sum() >= 15
    assert found[wanted].mean() >= 0.98
    assert wanted[found].mean() >= 0.60
