"""Misspelt words of the trade, and everyday words that only look like them."""

from __future__ import annotations

import pytest

from claimlens.classify.spelling import plain
from claimlens.classify.terms import Terms


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("batery", "battery"),
        ("baterry", "battery"),
        ("battry", "battery"),
        ("chargr", "charger"),
        ("brakse", "brake"),
        ("controler", "controller"),
        ("dispaly", "display"),
        ("conectors", "connector"),
        ("trottle", "throttle"),
        ("hedlight", "headlight"),
        ("handelbar", "handlebar"),
        ("corosion", "corrosion"),
        ("tires", "tyre"),
        ("swicthes", "switch"),
    ],
)
def test_a_common_slip_resolves_like_the_word_it_means(
    terms: Terms, written: str, meant: str
) -> None:
    assert (
        terms.lexicon("en").resolve(written)
        == terms.lexicon("en").resolve(meant)
        != "_"
    )


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("hills", "halls"),
        ("letter", "lever"),
        ("battle", "battery"),
        ("channel", "chain"),
        ("street", "steer"),
        ("contract", "contact"),
        ("health", "sheath"),
    ],
)
def test_an_everyday_word_is_not_mended(terms: Terms, word: str, near: str) -> None:
    english = terms.lexicon("en")
    assert english.resolve(word) != english.resolve(near) != "_"


@pytest.mark.parametrize(
    ("inflected", "base"),
    [
        ("batteries", "battery"),
        ("leaking", "leak"),
        ("snapped", "snap"),
        ("broken", "break"),
        ("wires", "wire"),
        ("burnt", "burn"),
        ("doesn't", "not"),
    ],
)
def test_bent_words_share_one_form(terms: Terms, inflected: str, base: str) -> None:
    assert terms.lexicon("en").resolve(inflected) == terms.lexicon("en").resolve(base)


def test_words_that_look_bent_but_are_their_own_stay_apart(terms: Terms) -> None:
    assert terms.lexicon("en").resolve("charger") != terms.lexicon("en").resolve(
        "charge"
    )
    assert terms.lexicon("en").resolve("connected") != terms.lexicon("en").resolve(
        "connector"
    )
    assert terms.lexicon("en").resolve("displayed") == terms.lexicon("en").resolve(
        "shown"
    )


def test_plain_drops_accents_case_and_punctuation() -> None:
    assert plain("  Bremsbeläge / Größe_2 ") == "bremsbelage grosse 2"
