"""The shipped stems: what the stemmer gives, and nearly all that it is asked for."""

from __future__ import annotations

import pytest
from stems_maker import stemmed_languages, words_to_stem

from claimlens.classify.languages import load_language


@pytest.mark.parametrize("code", stemmed_languages())
def test_the_shipped_stems_are_those_of_the_stemmer(code: str) -> None:
    language = load_language(code)
    # every tenth word: the stemmer takes a second for all of a language
    listed = sorted(language.stemmed)[::10]
    assert len(listed) > 500
    assert {w: language.stemmed[w] for w in listed} == {
        word: language.stem_anew(word) for word in listed
    }


@pytest.mark.parametrize("code", stemmed_languages())
def test_the_shipped_stems_hold_what_compiling_needs(code: str) -> None:
    """A start is slow where they don't: run tests/unit/classify/stems_maker.py."""
    needed = words_to_stem(code)
    assert len(needed - set(load_language(code).stemmed)) < 0.1 * len(needed)
