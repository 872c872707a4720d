"""Laws of classification that hold for any claims."""

from __future__ import annotations

from functools import lru_cache

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.classify.decide import classify, explain
from claimlens.classify.taxonomy import UNCLASSIFIED, load_taxonomy
from claimlens.classify.terms import Terms, load_terms

VOCABULARY = """
battery charger motor display harness connector brake pads headlight frame fork
not no dead fine replaced chafed corroded due to because but and , . ; found
noise from the in last year now smoke or checked cable of speed sensor sometimes
when without maybe nothing 12 xyz
"""
WORDS = VOCABULARY.split()
TEXTS = st.lists(st.sampled_from(WORDS), max_size=14).map(" ".join)
PARTS = st.sampled_from(["display", "motor", "Battery Pack", "", "??"])


@lru_cache(maxsize=1)
def terms() -> Terms:
    """The shipped terms."""
    return load_terms(load_taxonomy())


def claims_of(texts: list[tuple[str, str]]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "claim_no": [f"C{number}" for number in range(len(texts))],
            "narrative": [narrative for narrative, _ in texts],
            "technician_note": [note for _, note in texts],
            "resolution": None,
        }
    )


def parts_of(names: list[tuple[int, str]]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "claim_no": [f"C{number}" for number, _ in names],
            "part_no": [f"P-{place}" for place in range(len(names))],
            "description": None,
            "component": [name for _, name in names],
            "unknown": False,
        },
        columns=["claim_no", "part_no", "description", "component", "unknown"],
    )


NOTHING = pd.DataFrame(columns=["claim_no"])


@settings(max_examples=60, deadline=None)
@given(
    texts=st.lists(st.tuples(TEXTS, TEXTS), min_size=1, max_size=6),
    names=st.lists(st.tuples(st.integers(0, 5), PARTS), max_size=5),
    seed=st.integers(0, 1000),
)
def test_the_order_of_rows_changes_no_decision(
    texts: list[tuple[str, str]], names: list[tuple[int, str]], seed: int
) -> None:
    claims, parts = claims_of(texts), parts_of(names)
    straight = classify(claims, parts, NOTHING, NOTHING, terms=terms())
    mixed = classify(
        claims.sample(frac=1, random_state=seed),
        parts.sample(frac=1, random_state=seed),
        NOTHING,
        NOTHING,
        terms=terms(),
    )
    again = mixed.sort_values("claim_no").reset_index(drop=True)
    pd.testing.assert_frame_equal(straight, again)


@settings(max_examples=100, deadline=None)
@given(texts=st.tuples(TEXTS, TEXTS))
def test_every_claim_falls_into_one_class_of_the_taxonomy(
    texts: tuple[str, str],
) -> None:
    row = classify(claims_of([texts]), NOTHING, NOTHING, NOTHING, terms=terms()).iloc[0]
    taxonomy = terms().taxonomy
    assert row["component"] in {UNCLASSIFIED, *taxonomy.components}
    assert row["failure_mode"] in {UNCLASSIFIED, *taxonomy.modes}
    assert row["safety"] in {"yes", "no"}
    assert 0.0 <= row["confidence"] <= 1.0
    others = [name for name in row["other_components"].split("; ") if name]
    assert row["component"] not in others
    assert set(others) <= set(taxonomy.components)


@settings(max_examples=60, deadline=None)
@given(texts=st.tuples(TEXTS, TEXTS), low=st.floats(0, 1), high=st.floats(0, 1))
def test_a_higher_threshold_only_ever_abstains_more(
    texts: tuple[str, str], low: float, high: float
) -> None:
    low, high = sorted((low, high))
    claims = claims_of([texts])
    loose, strict = (
        classify(claims, NOTHING, NOTHING, NOTHING, terms=terms(), threshold=t).iloc[0]
        for t in (low, high)
    )
    if strict["component"] not in (UNCLASSIFIED, "none/no fault found"):
        assert loose["component"] != UNCLASSIFIED


@settings(max_examples=60, deadline=None)
@given(text=st.text(max_size=60))
def test_no_text_breaks_the_reader(text: str) -> None:
    claims = claims_of([(text, text[::-1])])
    assert len(classify(claims, NOTHING, NOTHING, NOTHING, terms=terms())) == 1
    assert explain(claims, NOTHING, NOTHING, NOTHING, terms=terms())
