"""Right, wrong and abstained shares on labelled texts of five languages.

- ``texts_dev`` and ``texts_test`` (English) were written and labelled before the
  first terms were tuned, and split by the SHA-256 of the text; ``texts_more`` holds
  batches written later, each labelled before it was first read by the engine and
  used for development afterwards.
- ``texts/<language>_dev``: batch 0 by an author who had not seen the terms, the other
  batches by the writer of the terms, each labelled before it was first read. All of
  them were tuned on.
- ``texts/<language>_test``: the other half of the texts of batch 0, split by digest.
  Nobody looked at them; their totals were watched while the terms grew.
- ``texts/<language>_blind``: written at the end by an author who had seen nothing, and
  read once, when the terms were done. These tell what unseen texts can expect.
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
LANGUAGES = ("en", "de", "fr", "nl", "es")
TEXTS = [
    "texts_dev.csv",
    "texts_test.csv",
    "texts_more.csv",
    *(f"texts/{code}_dev.csv" for code in LANGUAGES),
]
UNSEEN = [
    f"texts/{code}_{kind}.csv" for kind in ("test", "blind") for code in LANGUAGES
]

# Shares on the unseen texts, all languages together; a little below what was seen.
RIGHT, WRONG, MODE, FOUND = 0.86, 0.08, 0.80, 0.93


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
    assert found[wanted].mean() >= 0.97
    assert wanted[found].mean() >= 0.60


def test_unseen_texts_are_read_as_they_were_measured(terms: Terms) -> None:
    """Hold the line: a change that helps the texts tuned on must not hurt these."""
    result = pd.concat([classified(name, terms) for name in UNSEEN])
    right = result["component"] == result["wanted_component"]
    wrong = ~right & (result["component"] != "unclassified")
    mode = result["failure_mode"] == result["wanted_failure_mode"]
    danger = result["wanted_safety"] == "yes"
    found = result["safety"] == "yes"
    assert len(result) > 600
    assert right.mean() >= RIGHT
    assert wrong.mean() <= WRONG
    assert mode[right].mean() >= MODE
    assert found[danger].mean() >= FOUND
    assert danger[found].mean() >= 0.60


def test_the_test_half_was_split_off_by_the_digest_of_each_text() -> None:
    for name, remainder in (("texts_dev.csv", 0), ("texts_test.csv", 1)):
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                digest = hashlib.sha256(row["text"].encode()).hexdigest()
                assert int(digest, 16) % 2 == remainder


def test_every_text_is_labelled_with_words_of_the_taxonomy(terms: Terms) -> None:
    taxonomy = terms.taxonomy
    for name in (*TEXTS, *UNSEEN):
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                assert row["component"] in {"unclassified", *taxonomy.components}
                assert row["failure_mode"] in {"unclassified", *taxonomy.modes}
                assert row["safety"] in {"yes", "no"}
