"""Texts read sentence by sentence say what the whole text says."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.classify.decide import classify
from claimlens.classify.deciding import Decider
from claimlens.classify.evidence import Finding, Part
from claimlens.classify.sentences import extracts_of
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import Terms, load_terms
from claimlens.classify.weighing import Case, Decision, TextReader, weigh

TEXTS = Path(__file__).parents[1] / "unit" / "classify" / "texts"
# Sentences that lean on the ones before them, and ends that are none.
LEANING = [
    "It stopped working then.",
    "Replaced the motor.",
    "Still no change.",
    "Works again with a new display.",
    "Also noisy!",
    "Motor i. O., Display o. Fkt.",
    "Akku gepr. 36,5 V, ca. 3.5 Jahre",
    "Fahrzeug inkl. Ladegerät.",
    "No fault found.",
    "Keine Unterstützung, Daumengas geht. Akku lädt nicht, Ladegerät bleibt dunkel.",
    "Niet de accu.",
    "De accu is het niet.",
    "Le moteur ne marche plus.",
    "El freno chirría;",
    "2 of 3 spokes broken at 1.200,5 km.",
    "\n- smoke from the battery\n- nobody hurt",
    "Kind regards, the display is dead",
    "xyzzy",
    "",
]


@pytest.fixture(scope="module")
def terms() -> Terms:
    return load_terms(load_taxonomy())


def _sentences() -> list[str]:
    """Return the labelled texts of all languages, and the leaning sentences."""
    found = list(LEANING)
    for path in sorted(TEXTS.glob("*.csv")):
        found += pd.read_csv(path, dtype=str, keep_default_na=False)["text"].tolist()
    return found


SENTENCES = _sentences()
BORDERS = [" ", ". ", "! ", "\n", ", ", " 17 ", ".", "\n\n", " - "]


@st.composite
def texts(draw: st.DrawFn) -> str:
    """Return sentences of the labelled texts, joined in any way."""
    chosen = draw(
        st.lists(st.sampled_from(SENTENCES) | st.sampled_from(LEANING), max_size=4)
    )
    borders = draw(st.lists(st.sampled_from(BORDERS), min_size=4, max_size=4))
    return "".join(a + b for a, b in zip(chosen, borders, strict=False))


def _compared(decision: Decision) -> tuple[object, ...]:
    return (
        decision.component,
        decision.failure_mode,
        decision.others,
        decision.dangers[:1],
        bool(decision.dangers),
        decision.source,
        decision.confidence,
        decision.evidence,
        decision.against,
    )


def _both(case: Case, terms: Terms) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """Decide a claim by its sentences, and by its whole texts."""
    whole = weigh(case, terms, TextReader(terms), threshold=0.5)
    return _compared(Decider(terms, 0.5)(case)), _compared(whole)


@pytest.mark.slow
def test_every_labelled_text_is_decided_alike(terms: Terms) -> None:
    for text in SENTENCES:
        by_sentence, whole = _both(Case("C1", (None, text, None)), terms)
        assert by_sentence == whole, text


@settings(max_examples=300, deadline=None)
@given(note=texts(), narrative=texts(), resolution=texts(), extra=st.integers(0, 5))
def test_texts_of_any_sentences_are_decided_alike(
    terms: Terms, note: str, narrative: str, resolution: str, extra: int
) -> None:
    parts = (Part("P-1", "display, colour", None, False),) if extra == 1 else ()
    finding = Finding("2024-01-02", "P-1", "worn", None, None, "brake pads worn")
    case = Case(
        "C1",
        (note or None, narrative or None, resolution or None),
        parts,
        (finding,) if extra == 2 else (),
    )
    by_sentence, whole = _both(case, terms)
    assert by_sentence == whole


def test_a_text_of_very_many_sentences_is_decided_alike(terms: Terms) -> None:
    text = "The motor hums. The display is dark. Bought in May. " * 40
    by_sentence, whole = _both(Case("C1", (None, text, None)), terms)
    assert by_sentence == whole


def test_each_claim_is_told_in_its_own_words(terms: Terms) -> None:
    """What was decided once is quoted with the words of the claim at hand."""
    claims = pd.DataFrame(
        {
            "claim_no": ["C1", "C2", "C3"],
            "narrative": [
                "Batteries dead after 3 weeks.",
                "Battery dead after 41 weeks.",
                "Hello there. Batery dead after 5 weeks. Bye now.",
            ],
        }
    )
    nothing = pd.DataFrame(columns=["claim_no"])
    answers = classify(claims, nothing, nothing, nothing, terms=terms)
    assert list(answers["component"].unique()) == ["battery pack"]
    words = [text.split(": ")[1].split(" ")[0] for text in answers["evidence"]]
    assert words == ["batteries", "battery", "batery"]


def test_sentences_that_say_nothing_are_left_out(terms: Terms) -> None:
    [extract] = extracts_of("We met on Monday. The motor is noisy. Bye now.", terms)
    assert extract.texts == ("the motor is noisy.",)
