"""Five languages: which one a text is in, how its words are bent and denied."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from claimlens.classify.compounds import parts_of
from claimlens.classify.detection import LanguageFinder
from claimlens.classify.reading import tokens_of
from claimlens.classify.terms import Terms

Run = Callable[..., "dict[str, object]"]

GREETED = {
    "en": "Hello, since yesterday the display does not come on any more.",
    "de": "Guten Tag, seit gestern geht das Display nicht mehr an.",
    "fr": "Bonjour, depuis hier l'écran ne s'allume plus.",
    "nl": "Goedendag, sinds gisteren gaat het display niet meer aan.",
    "es": "Buenos días, desde ayer la pantalla ya no se enciende.",
}


@pytest.mark.parametrize(("code", "text"), GREETED.items(), ids=GREETED)
def test_the_small_words_tell_the_language(terms: Terms, code: str, text: str) -> None:
    assert terms.languages_of(tokens_of(text))[0] == code


@pytest.mark.parametrize("text", GREETED.values(), ids=GREETED)
def test_the_same_complaint_is_the_same_in_every_language(one: Run, text: str) -> None:
    row = one(text)
    assert (row["component"], row["failure_mode"]) == ("display", "no power")


def test_a_text_of_unknown_words_has_no_language(terms: Terms) -> None:
    assert terms.languages_of(["xqzt", "vrkl"]) == []


def test_the_first_language_settles_a_tie() -> None:
    finder = LanguageFinder({"b": ["of"], "a": ["of"]}, {"b": [], "a": []})
    assert finder.rank(["of"]) == ["b", "a"]


def test_a_small_word_counts_more_than_a_word_of_the_trade() -> None:
    finder = LanguageFinder({"a": ["und"], "b": []}, {"a": [], "b": ["motor"]})
    assert finder.rank(["und", "motor"])[0] == "a"


KNOWN = {"bremse": "brems", "brems": "brems", "hebel": "hebel", "lade": "lad",
         "buchse": "buchs", "buchsen": "buchs", "deckel": "deckel"}  # fmt: skip


@pytest.mark.parametrize(
    ("word", "parts"),
    [
        ("bremshebel", ["brems", "hebel"]),
        ("ladebuchse", ["lad", "buchs"]),
        ("ladebuchsendeckel", ["lad", "buchs", "deckel"]),
        ("hinterbremse", ["_", "brems"]),
        ("bremsgestank", ["brems", "_"]),
        ("wetterlage", None),
    ],
)
def test_a_compound_is_taken_apart(word: str, parts: list[str] | None) -> None:
    assert parts_of(word, KNOWN.get, KNOWN.get, "_") == parts


@pytest.mark.parametrize(
    ("text", "component"),
    [
        ("Motorstecker ist oxidiert.", "connector"),
        ("Stekker van de motor is gecorrodeerd.", "connector"),
        ("Le connecteur du moteur est oxydé.", "connector"),
        ("El conector del motor está oxidado.", "connector"),
    ],
)
def test_the_head_of_two_parts_is_meant(one: Run, text: str, component: str) -> None:
    assert one(text)["component"] == component


@pytest.mark.parametrize(
    "text",
    [
        "Der Motor fällt bei jeder längeren Steigung für ein paar Sekunden aus.",
        "De motor valt tijdens het rijden regelmatig even uit.",
    ],
)
def test_a_verb_in_two_parts_is_put_together(one: Run, text: str) -> None:
    row = one(text)
    assert row["component"] == "motor"
    assert "(fault)" in str(row["evidence"])


@pytest.mark.parametrize(
    "text",
    [
        "Nicht das Ladegerät, der Akku ist defekt.",
        "Niet de lader, de accu is defect.",
        "Ce n'est pas le chargeur, la batterie est défectueuse.",
        "No es el cargador, la batería está defectuosa.",
    ],
)
def test_a_part_that_is_ruled_out_is_not_blamed(one: Run, text: str) -> None:
    assert one(text)["component"] == "battery pack"


@pytest.mark.parametrize(
    "text",
    [
        "Es raucht nicht und brennt nicht, der Akku lädt nur nicht.",
        "Geen rook, geen brand, de accu laadt alleen niet.",
        "Pas de fumée, la batterie ne charge plus.",
        "No hay humo, la batería no carga.",
    ],
)
def test_a_denied_danger_is_no_danger(one: Run, text: str) -> None:
    assert one(text)["safety"] == "no"


@pytest.mark.parametrize(
    "text",
    [
        "Aus dem Akku kam Rauch.",
        "Er kwam rook uit de accu.",
        "De la fumée est sortie de la batterie.",
        "Salió humo de la batería.",
        "Plötzlich keine Bremswirkung mehr, gestürzt.",
        "Plotseling geen remwerking meer, gevallen.",
        "Plus de freins d'un coup, je suis tombé.",
        "De repente sin frenos, me caí.",
    ],
)
def test_a_danger_is_told_in_every_language(one: Run, text: str) -> None:
    assert one(text)["safety"] == "yes"


@pytest.mark.parametrize(
    ("text", "component"),
    [
        ("The screen is dead. With another display it works.", "display"),
        ("No power. With another battery no change, new controller fitted: works again",
         "controller"),
    ],
)  # fmt: skip
def test_what_works_with_another_part_had_a_faulty_one(
    one: Run, text: str, component: str
) -> None:
    assert one(text)["component"] == component
