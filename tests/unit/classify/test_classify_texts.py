"""Right, wrong and abstained shares on labelled texts, both halves.

``texts_dev`` and ``texts_test`` were written and labelled before the terms were
tuned, and split by the SHA-256 of the text; misses were looked at in the
development half only, of the test half nothing but its totals. ``texts_more``
holds batches written later, each labelled before it was first read by the
engine and used for development afterwards. First run of each batch: 83.9, 82.8,
88.5, 85.6, 89.3 % right and 7.7, 5.5, 1.0, 5.6, 6.7 % wrong.
"""

from __future__ import annotations

import csv
import hashlib
from pathlib import Path

import pandas as pd
import pytest

from claimlens.classify.decide import classify
from claimlens.classify.terms import Terms

HERE = Path(__file__).parent
TEXTS = ["texts_dev.csv", "texts_test.csv", "texts_more.csv"]


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


@pytest.mark.parametrize("name", TEXTS)
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


@pytest.mark.parametrize("name", TEXTS)
def test_dangerous_claims_are_found_before_precision(terms: Terms, name: str) -> None:
    result = classified(name, terms)
    wanted = result["wanted_safety"] == "yes"
    found = result["safety"] == "yes"
    assert wanted.sum() >= 15
    assert found[wanted].mean() >= 0.98
    assert wanted[found].mean() >= 0.60


def test_the_test_half_was_split_off_by_the_digest_of_each_text() -> None:
    for name, remainder in (("texts_dev.csv", 0), ("texts_test.csv", 1)):
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                digest = hashlib.sha256(row["text"].encode()).hexdigest()
                assert int(digest, 16) % 2 == remainder


def test_every_text_is_labelled_with_words_of_the_taxonomy(terms: Terms) -> None:
    taxonomy = terms.taxonomy
    for name in TEXTS:
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                assert row["component"] in {"unclassified", *taxonomy.components}
                assert row["failure_mode"] in {"unclassified", *taxonomy.modes}
                assert row["safety"] in {"yes", "no"}
