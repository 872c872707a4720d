"""Work out the stems that are shipped, and write them.

To be run from the root of a checkout whenever many terms were added, or another
release of the stemmer is used:

    python tests/unit/classify/stems_maker.py
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import claimlens.classify
from claimlens.classify.entries import entries_of
from claimlens.classify.languages import language_codes, load_language
from claimlens.classify.lexicon import Lexicon
from claimlens.classify.taxonomy import load_taxonomy, shipped

DATA = Path(claimlens.classify.__file__).parent / "data"


class _Noting(dict[str, str]):
    """Holds no stem, and notes which words are asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: set[str] = set()

    def get(self, key: str, default: object = None) -> None:  # type: ignore[override]
        self.asked.add(key)


def words_to_stem(code: str) -> set[str]:
    """Return the words that the stemmer is asked for when a language is compiled."""
    noting = _Noting()
    load_language.cache_clear()
    language = load_language(code)
    blank = replace(language, stemmed=noting, _stems={})
    for form in language.forms:
        blank.regular(form)
    entries = entries_of(shipped(f"terms_{code}.csv"), "terms", load_taxonomy())
    Lexicon(blank, [entry for rows in entries.values() for entry in rows])
    load_language.cache_clear()
    return noting.asked


def stemmed_languages() -> list[str]:
    """Return the languages that have a stemmer."""
    return [c for c in language_codes() if load_language(c).stemmer is not None]


def main() -> None:
    """Write the table of each language."""
    for code in stemmed_languages():
        language = load_language(code)
        lines = []
        # forms of two words are stemmed when they are read
        for word in sorted(w for w in words_to_stem(code) if " " not in w):
            stem = language.stem_anew(word)
            lines.append(word if word == stem else f"{word} {stem}")
        path = DATA / f"stems_{code}.txt"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
