"""How the words of a language are bent: endings, irregular forms, everyday words."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field

from claimlens.classify.taxonomy import read_rows, shipped

__all__ = ["Language", "load_language"]


@dataclass(slots=True)
class Language:
    """How the words of one language are brought to one form."""

    code: str
    head: str
    endings: tuple[tuple[str, int], ...]
    same: tuple[tuple[str, str], ...]
    forms: dict[str, str] = field(default_factory=dict)
    foreign: frozenset[str] = frozenset()

    def stem(self, word: str) -> str:
        """Return the word without its ending; irregular forms come first."""
        known = self.forms.get(word)
        if known is not None:
            return known
        for ending, least in self.endings:
            if word.endswith(ending) and len(word) - len(ending) >= least:
                if ending == "s" and word.endswith("ss"):
                    continue
                word = word[: -len(ending)]
                break
        for last, other in self.same:
            if len(word) > 3 and word.endswith(last):
                word = word[: -len(last)] + other
        if len(word) > 3 and word[-1] == word[-2]:
            word = word[:-1]
        return self.forms.get(word, word)


def load_language(code: str) -> tuple[Language, frozenset[str], str]:
    """Load a language from the shipped data.

    Parameters
    ----------
    code : str
        Its two letters, a table of ``languages.toml``.

    Returns
    -------
    language : Language
        With its irregular forms.
    ordinary : frozenset of str
        Everyday words that are never mended into words of the trade.
    text : str
        All that was read, for the digest.
    """
    grammar_text = shipped("languages.toml")
    grammar = tomllib.loads(grammar_text)[code]
    forms_text = shipped(f"forms_{code}.csv")
    ordinary_text = shipped(f"ordinary_{code}.txt")
    foreign_text = shipped(f"foreign_{code}.txt")
    language = Language(
        code,
        grammar["head"],
        tuple((str(e), int(n)) for e, n in grammar["endings"]),
        tuple((str(a), str(b)) for a, b in grammar["same"]),
    )
    required = ("lemma", "forms")
    for _, row in read_rows(forms_text, source="forms", required=required):
        for form in (row["lemma"], *row["forms"].split("|")):
            if form:
                language.forms.setdefault(form, row["lemma"])
    language.foreign = _words(foreign_text)
    whole = grammar_text + forms_text + ordinary_text + foreign_text
    return language, _words(ordinary_text), whole


def _words(text: str) -> frozenset[str]:
    """Return the words of a list, without its comments."""
    return frozenset(
        word
        for line in text.splitlines()
        if not line.startswith("#")
        for word in line.split()
    )
