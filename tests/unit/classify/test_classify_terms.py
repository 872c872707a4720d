"""The terms as data: loading, extending, and what their digest covers."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd
import pytest

from claimlens.classify.decide import classify
from claimlens.classify.taxonomy import load_taxonomy, read_rows, shipped
from claimlens.classify.terms import Terms, load_terms
from claimlens.errors import SettingsError

HEADER = "group,component,failure_mode,weight,terms\n"
COLUMNS = ("group", "component", "failure_mode", "weight", "terms")


def test_every_component_but_none_has_a_part_term(terms: Terms) -> None:
    rows = read_rows(shipped("terms_en.csv"), source="terms", required=COLUMNS)
    named = {
        name
        for _, row in rows
        if row["group"] == "part"
        for name in row["component"].split(";")
    }
    assert set(terms.taxonomy.components) - named == {"none/no fault found"}


def test_every_failure_mode_has_a_term(terms: Terms) -> None:
    rows = read_rows(shipped("terms_en.csv"), source="terms", required=COLUMNS)
    named = {row["failure_mode"] for _, row in rows}
    assert set(terms.taxonomy.modes) <= named


def test_every_shipped_row_leads_into_the_shipped_taxonomy(terms: Terms) -> None:
    for _, row in read_rows(shipped("terms_en.csv"), source="t", required=COLUMNS):
        names = [name for name in row["component"].split(";") if name]
        assert set(names) <= set(terms.taxonomy.components), row
        assert row["failure_mode"] in {"", *terms.taxonomy.modes}, row
        assert 0 < float(row["weight"]) <= 1, row


def test_no_phrase_shrinks_to_one_word_unseen(terms: Terms) -> None:
    """A phrase whose other words are passed over would fire on that one word."""
    for _, row in read_rows(shipped("terms_en.csv"), source="t", required=COLUMNS):
        for phrase in row["terms"].split("|") if row["group"] != "skip" else ():
            written = re.findall(r"[a-z0-9]+(?:'[a-z]+)?|#", phrase)
            assert len(written) == 1 or len(terms.lexicon("en").words_of(phrase)) > 1, (
                phrase
            )


def test_the_digest_is_stable_and_follows_the_terms(tmp_path: Path) -> None:
    taxonomy = load_taxonomy()
    extra = tmp_path / "own.csv"
    extra.write_text(HEADER + "part,motor,,1,whirligig\n")
    first, again = load_terms(taxonomy), load_terms(taxonomy)
    assert first.digest == again.digest
    assert load_terms(taxonomy, extra).digest != first.digest
    assert re.fullmatch(r"[0-9a-f]{64}", first.digest)


def test_the_digest_follows_the_taxonomy(tmp_path: Path) -> None:
    own = tmp_path / "components.csv"
    own.write_text("component\nbattery pack\nmotor\n")
    assert load_terms(load_taxonomy(own)).digest != load_terms(load_taxonomy()).digest


@pytest.mark.parametrize(
    ("row", "column"),
    [("noun,motor,,1,whirligig", "group"), ("part,motor,,much,whirligig", "weight")],
)
def test_a_bad_row_of_a_workspace_is_refused_with_its_place(
    tmp_path: Path, row: str, column: str
) -> None:
    extra = tmp_path / "own.csv"
    extra.write_text(HEADER + row + "\n")
    with pytest.raises(SettingsError) as caught:
        load_terms(load_taxonomy(), extra)
    assert (caught.value.line, caught.value.column) == (2, column)


def test_a_terms_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        load_terms(load_taxonomy(), tmp_path / "none.csv")


def _phrases(groups: set[str]) -> list[tuple[list[str], str, str]]:
    """Return component names, mode and phrase of every row of these groups."""
    return [
        (row["component"].split(";"), row["failure_mode"], phrase.replace("#", "7"))
        for _, row in read_rows(shipped("terms_en.csv"), source="t", required=COLUMNS)
        for phrase in row["terms"].split("|")
        if row["group"] in groups and float(row["weight"]) >= 0.75
    ]


def _read(texts: list[str], terms: Terms) -> pd.DataFrame:
    claims = pd.DataFrame(
        {"claim_no": [str(n) for n in range(len(texts))], "narrative": texts}
    )
    empty = pd.DataFrame()
    return classify(claims, empty, empty, empty, terms=terms)


def test_no_part_term_is_hidden_by_another(terms: Terms) -> None:
    rows = [row for row in _phrases({"part", "lead", "joint"}) if len(row[0]) == 1]
    result = _read([f"The {phrase} is faulty." for _, _, phrase in rows], terms)
    wrong = [
        (phrase, names[0], got)
        for (names, _, phrase), got in zip(rows, result["component"], strict=True)
        if got != names[0]
    ]
    assert wrong == []
    assert len(rows) > 900


def test_no_sign_is_hidden_by_another(terms: Terms) -> None:
    rows = _phrases({"sign"})
    result = _read([phrase.replace("#", "7") for _, _, phrase in rows], terms)
    wrong = [
        (phrase, names[0], mode)
        for (names, mode, phrase), got, got_mode in zip(
            rows, result["component"], result["failure_mode"], strict=True
        )
        if (got, got_mode) != (names[0], mode)
    ]
    assert wrong == []
    assert len(rows) > 400


def test_own_words_without_a_language_hold_in_every_language(tmp_path: Path) -> None:
    extra = tmp_path / "own.csv"
    extra.write_text(HEADER + "part,motor,,1,whirligig\n", encoding="utf-8")
    terms = load_terms(load_taxonomy(), extra)
    assert all(code.resolve("whirligig") != "_" for code in terms.lexicons.values())


def test_own_words_of_a_language_stay_in_it(tmp_path: Path) -> None:
    extra = tmp_path / "own.csv"
    header = HEADER.replace("group,", "language,group,")
    extra.write_text(header + "de,part,motor,,1,surrkasten\n", encoding="utf-8")
    terms = load_terms(load_taxonomy(), extra)
    assert terms.lexicon("de").resolve("surrkasten") != "_"
    assert terms.lexicon("en").resolve("surrkasten") == "_"


def test_replaced_terms_leave_only_the_own_words(tmp_path: Path) -> None:
    extra = tmp_path / "own.csv"
    extra.write_text(HEADER + "part,motor,,1,whirligig\n", encoding="utf-8")
    terms = load_terms(load_taxonomy(), extra, replace=["en"])
    assert terms.lexicon("en").resolve("battery") == "_"
    assert terms.lexicon("en").resolve("whirligig") != "_"


def test_a_language_without_terms_is_named(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="no terms for the language 'xx'"):
        load_terms(load_taxonomy(), languages=["en", "xx"])
