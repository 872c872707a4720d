"""What the model sees of a claim, against scikit-learn's own vectorisers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.feature_extraction.text import CountVectorizer, TfidfVectorizer

from claimlens.classify.learned_features import (
    cues_of,
    grams_of,
    learn_vocabulary,
    matrix,
)

TEXTS = [
    "the pikto quits on hills",
    "pikto dead since the rain, quits",
    "chain slips on hills, slips again",
    "the chain slips",
    "rain in the charger",
    "x",
]


@given(st.text(alphabet="abcdefgh", min_size=1, max_size=12))
def test_the_grams_of_a_word_are_those_of_the_library(word: str) -> None:
    own = CountVectorizer(analyzer="char_wb", ngram_range=(2, 5)).build_analyzer()
    assert sorted(grams_of(word)) == sorted(own(word))


def test_the_weights_of_the_grams_are_those_of_the_library() -> None:
    claims = [cues_of([text]) for text in TEXTS]
    found = learn_vocabulary(claims)
    rows = matrix(claims, found).toarray()
    library = TfidfVectorizer(
        analyzer="char_wb", ngram_range=(2, 5), min_df=2, sublinear_tf=True
    )
    # the library cuts at blanks only, so it is given the words alone
    wanted = library.fit_transform(
        [" ".join(" ".join(words) for words in claim.texts) for claim in claims]
    ).toarray()
    assert list(found.grams) == sorted(library.get_feature_names_out())
    order = np.argsort(library.get_feature_names_out())
    np.testing.assert_allclose(
        rows[:, : len(found.grams)], wanted[:, order], atol=1e-12
    )


def test_words_and_pairs_weigh_half_of_what_the_library_gives_them() -> None:
    claims = [cues_of([text]) for text in TEXTS]
    found = learn_vocabulary(claims)
    library = TfidfVectorizer(
        ngram_range=(1, 2), min_df=2, sublinear_tf=True, token_pattern=r"\S+"
    )
    wanted = library.fit_transform(
        [" ".join(" ".join(words) for words in claim.texts) for claim in claims]
    ).toarray()
    assert list(found.words) == list(library.get_feature_names_out())
    block = matrix(claims, found).toarray()[:, len(found.grams) :]
    np.testing.assert_allclose(block, 0.5 * wanted, atol=1e-12)


def test_the_columns_do_not_depend_on_the_order_of_claims() -> None:
    claims = [cues_of([text], [("model M", 0.3)]) for text in TEXTS]
    forth, back = learn_vocabulary(claims), learn_vocabulary(claims[::-1])
    assert (forth.grams, forth.words, forth.facts) == (
        back.grams,
        back.words,
        back.facts,
    )
    np.testing.assert_array_equal(forth.rarity, back.rarity)


def test_a_name_seen_once_has_no_column() -> None:
    found = learn_vocabulary([cues_of(["kneya"]), cues_of(["pikto"])])
    assert found.size == 0


def test_accents_case_quotes_signatures_and_numbers_do_not_show() -> None:
    plain = cues_of(["das gerat 5 zischt"])
    written = cues_of(
        ["Das GERÄT 48 zischt\n> frueher geschrieben\nMit freundlichen Grüßen\nX"]
    )
    assert written.key.startswith(plain.key.replace("#", "#"))
    assert "geschrieben" not in written.key
    assert "#" in written.key
    assert "48" not in written.key


def test_facts_hold_their_values_and_pairs_stay_within_a_text() -> None:
    facts = [("model M", 0.3)]
    claims = [cues_of(["aa bb", "cc dd"], facts), cues_of(["aa bb", "cc dd"], facts)]
    found = learn_vocabulary(claims)
    assert "bb cc" not in found.words
    assert "aa bb" in found.words
    assert matrix(claims, found).toarray()[0, -1] == pytest.approx(0.3)


def test_a_claim_without_a_known_name_is_an_empty_row() -> None:
    found = learn_vocabulary([cues_of(["kneya"]), cues_of(["kneya"])])
    assert matrix([cues_of(["zzz"]), cues_of([None])], found).nnz == 0
