"""Right, wrong and abstained shares on labelled texts of five languages.

- ``texts_dev`` and ``texts_test`` (English) were written and labelled before the
  first terms were tuned, and split by the SHA-256 of the text; ``texts_more`` holds
  batches written later, each labelled before it was first read by the engine and
  used for development afterwards.
- ``texts/<language>_dev``: batch 0 by an author who had not seen the terms, the other
  batches by the writer of the terms, each labelled before it was first read. All of
  them were tuned on.
- ``texts/<language>_test``: the other half of the texts of batch 0, split by digest;
  ``_blind``, ``_hard`` (many parts named, one at fault) and ``_inbox``: each by an
  author who had seen nothing, read once untouched, and tuned on since.
- ``texts/<language>_unread``: by another such author, told in a roundabout way. The
  terms were never tuned on them. Unseen plain texts fare as ``_inbox`` did when it was
  first read: 88 % right and 5 % wrong.
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
LATER = [
    f"texts/{code}_{kind}.csv"
    for kind in ("test", "blind", "hard", "inbox")
    for code in LANGUAGES
]
UNREAD = [f"texts/{code}_unread.csv" for code in LANGUAGES]

# Least right, most wrong, least modes right and dangers found, all languages
# together; a little below what was seen.
BOUNDS = {"later": (0.92, 0.03, 0.87, 0.98), "unread": (0.78, 0.12, 0.77, 0.97)}


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


@pytest.mark.parametrize(("kind", "names"), [("later", LATER), ("unread", UNREAD)])
def test_texts_are_read_as_they_were_measured(
    terms: Terms, kind: str, names: list[str]
) -> None:
    """Hold the line: a change that helps the texts tuned on must not hurt these."""
    least_right, most_wrong, least_mode, least_found = BOUNDS[kind]
    result = pd.concat([classified(name, terms) for name in names])
    right = result["component"] == result["wanted_component"]
    wrong = ~right & (result["component"] != "unclassified")
    mode = result["failure_mode"] == result["wanted_failure_mode"]
    danger = result["wanted_safety"] == "yes"
    found = result["safety"] == "yes"
    assert len(result) >= 250
    assert right.mean() >= least_right
    assert wrong.mean() <= most_wrong
    assert mode[right].mean() >= least_mode
    assert found[danger].mean() >= least_found
    assert danger[found].mean() >= 0.60


def test_the_test_half_was_split_off_by_the_digest_of_each_text() -> None:
    for name, remainder in (("texts_dev.csv", 0), ("texts_test.csv", 1)):
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                digest = hashlib.sha256(row["text"].encode()).hexdigest()
                assert int(digest, 16) % 2 == remainder


def test_every_text_is_labelled_with_words_of_the_taxonomy(terms: Terms) -> None:
    taxonomy = terms.taxonomy
    for name in (*TEXTS, *LATER, *UNREAD):
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                assert row["component"] in {"unclassified", *taxonomy.components}
                assert row["failure_mode"] in {"unclassified", *taxonomy.modes}
                assert row["safety"] in {"yes", "no"}
