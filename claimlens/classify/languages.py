"""How the words of a language are bent: endings, irregular forms, everyday words."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

from snowballstemmer.dutch_stemmer import DutchStemmer
from snowballstemmer.french_stemmer import FrenchStemmer
from snowballstemmer.german_stemmer import GermanStemmer
from snowballstemmer.spanish_stemmer import SpanishStemmer

from claimlens.classify.taxonomy import read_rows, shipped
from claimlens.errors import SettingsError

__all__ = [
    "Language",
    "folded",
    "language_codes",
    "load_language",
    "word_list",
]

# Named one by one: the package's own factory takes a compiled twin where one
# is installed, and two machines could then disagree.
_STEMMERS = {
    "german": GermanStemmer,
    "french": FrenchStemmer,
    "dutch": DutchStemmer,
    "spanish": SpanishStemmer,
}
_SHORTEST = 3
_ROUNDS = 4
_STEMS_KEPT = 100_000


def folded(word: str) -> str:
    """Return a lower-case word without accents, ß as one s."""
    if word.isascii():
        return word
    letters = unicodedata.normalize("NFKD", word.replace("ß", "s").replace("œ", "oe"))
    return "".join(c for c in letters if not unicodedata.combining(c))


@dataclass(slots=True)
class Language:
    """How the words of one language are brought to one form.

    Parameters
    ----------
    code : str
        Its two letters.
    head : str
        ``last`` where the last of two parts in a row is the one that is meant
        ("motor connector"), ``first`` where it is the first ("connecteur
        moteur").
    endings : tuple of (str, int)
        Endings that are cut, longest first, and the letters that must stay.
    same : tuple of (str, str)
        Last letters that are one letter for the comparison of words.
    fold : tuple of (str, str)
        Pairs of letters that are written as one (the German "ae").
    stemmer : callable or None
        Cuts the endings that ``endings`` leaves.
    compounds : bool
        Whether words are written in one with those that they belong to.
    denies_back : bool
        Whether a negation follows what it denies ("geht nicht").
    absent : frozenset of str
        Negations that tell that something is not there ("kein", "pas de").
    particles : frozenset of str
        Second parts of verbs that stand at the end of the clause.
    it : frozenset of str
        Words before a negation that rule a part out ("de accu is het niet").
    abbreviations : frozenset of str
        Words after which a dot is no full stop.
    forms : dict of str to str
        Irregular forms and the stem they lead to.
    small : frozenset of str
        Small words by which the language is recognised.
    ordinary : frozenset of str
        Everyday words that are never mended into words of the trade.
    stemmed : dict of str to str
        What the stemmer makes of the words of the shipped data, worked out
        beforehand: stemming them is most of the time that a start takes.
    """

    code: str
    head: str
    endings: tuple[tuple[str, int], ...] = ()
    same: tuple[tuple[str, str], ...] = ()
    fold: tuple[tuple[str, str], ...] = ()
    stemmer: Callable[[str], str] | None = None
    compounds: bool = False
    denies_back: bool = False
    absent: frozenset[str] = frozenset()
    particles: frozenset[str] = frozenset()
    it: frozenset[str] = frozenset()
    abbreviations: frozenset[str] = frozenset()
    forms: dict[str, str] = field(default_factory=dict)
    small: frozenset[str] = frozenset()
    ordinary: frozenset[str] = frozenset()
    stemmed: dict[str, str] = field(default_factory=dict, repr=False, compare=False)
    _stems: dict[str, str] = field(default_factory=dict, repr=False, compare=False)

    def stem(self, word: str) -> str:
        """Return the word without its ending; irregular forms come first."""
        stem = self._stems.get(word)
        if stem is None:
            stem = self._stem(word)
            if len(self._stems) < _STEMS_KEPT:
                self._stems[word] = stem
        return stem

    def _stem(self, word: str) -> str:
        known = self.forms.get(word)
        if known is None:
            word = folded(word)
            known = self.forms.get(word)
        if known is not None:
            return known
        stem = self.regular(word)
        return self.forms.get(stem, stem)

    def regular(self, word: str) -> str:
        """Return the folded word without its ending, by rule alone."""
        for ending, least in self.endings:
            if word.endswith(ending) and len(word) - len(ending) >= least:
                if ending == "s" and word.endswith("ss"):
                    continue
                word = word[: -len(ending)]
                break
        word = self._stemmed(word)
        for old, new in self.fold:
            word = word.replace(old, new)
        for last, other in self.same:
            if len(word) > _SHORTEST and word.endswith(last):
                word = word[: -len(last)] + other
        if len(word) > _SHORTEST and word[-1] == word[-2]:
            word = word[:-1]
        return word

    def _stemmed(self, word: str) -> str:
        """Stem until nothing changes: a stem found in a compound is stemmed again."""
        if self.stemmer is None:
            return word
        known = self.stemmed.get(word)
        return self.stem_anew(word) if known is None else known

    def stem_anew(self, word: str) -> str:
        """Return what the stemmer makes of a word, whatever was worked out before."""
        if self.stemmer is None:
            return word
        for _ in range(_ROUNDS):
            if len(word) <= _SHORTEST:
                break
            stem = self.stemmer(word)
            if stem == word or len(stem) < _SHORTEST:
                break
            word = stem
        return word


@lru_cache(maxsize=1)
def _grammars() -> dict[str, dict[str, object]]:
    """Return the tables of ``languages.toml``, one a language."""
    return tomllib.loads(shipped("languages.toml"))


def language_codes() -> tuple[str, ...]:
    """Return the languages that have terms, English first."""
    return tuple(_grammars())


def _pairs(grammar: dict[str, object], key: str) -> list[list[str]]:
    found = grammar.get(key, [])
    assert isinstance(found, list)  # for the type checker; the file is ours
    return found


def _grammar_of(code: str) -> dict[str, object]:
    grammar = _grammars().get(code)
    if grammar is None:
        raise SettingsError(
            f"There are no terms for the language {code!r}.",
            remedy=f"use some of: {', '.join(language_codes())}",
        )
    return grammar


def language_texts(code: str) -> tuple[frozenset[str], str]:
    """Return a language's small words, and all that it is made from.

    Parameters
    ----------
    code : str
        Its two letters, a table of ``languages.toml``.

    Returns
    -------
    small : frozenset of str
        Words by which it is recognised.
    text : str
        Everything that was read, for the digest.

    Raises
    ------
    SettingsError
        If claimlens has no terms in that language.
    """
    whole = repr(_grammar_of(code))
    small = shipped(f"small_{code}.txt")
    whole += shipped(f"forms_{code}.csv")
    return word_list(small), whole + small + shipped(f"ordinary_{code}.txt")


def _stem_table(code: str) -> dict[str, str]:
    """Return the shipped stems: a word and its stem a line, one where both agree."""
    rows = (line.split(" ") for line in shipped(f"stems_{code}.txt").splitlines())
    return {row[0]: row[-1] for row in rows}


@lru_cache(maxsize=16)
def load_language(code: str) -> Language:
    """Load a language from the shipped data, once in each process.

    Parameters
    ----------
    code : str
        Its two letters, a table of ``languages.toml``.

    Returns
    -------
    Language
        With its irregular forms.

    Raises
    ------
    SettingsError
        If claimlens has no terms in that language.
    """
    grammar = _grammar_of(code)
    forms_text = shipped(f"forms_{code}.csv")
    stemmer = grammar.get("stemmer")
    language = Language(
        code,
        str(grammar["head"]),
        endings=tuple((str(e), int(n)) for e, n in _pairs(grammar, "endings")),
        same=tuple((a, b) for a, b in _pairs(grammar, "same")),
        fold=tuple((a, b) for a, b in _pairs(grammar, "fold")),
        stemmer=None if stemmer is None else _STEMMERS[str(stemmer)]().stemWord,
        compounds=grammar.get("compounds") is True,
        denies_back=grammar.get("denies_back") is True,
        absent=frozenset(str(word) for word in _pairs(grammar, "absent")),
        particles=frozenset(str(word) for word in _pairs(grammar, "particles")),
        it=frozenset(str(word) for word in _pairs(grammar, "it")),
        abbreviations=frozenset(str(w) for w in _pairs(grammar, "abbreviations")),
        small=word_list(shipped(f"small_{code}.txt")),
        ordinary=word_list(shipped(f"ordinary_{code}.txt")),
        stemmed={} if stemmer is None else _stem_table(code),
    )
    required = ("lemma", "forms")
    for _, row in read_rows(forms_text, source=f"forms_{code}.csv", required=required):
        lemma = language.regular(folded(row["lemma"].lower()))
        if language.stemmer is None:
            lemma = row["lemma"]
        for form in (row["lemma"], *row["forms"].split("|")):
            if form.strip():
                language.forms.setdefault(form.strip().lower(), lemma)
    for form, lemma in list(language.forms.items()):
        language.forms.setdefault(folded(form), lemma)
    return language


def word_list(text: str) -> frozenset[str]:
    """Return the words of a list without its comments, with and without accents."""
    words = {
        word.lower()
        for line in text.splitlines()
        if not line.startswith("#")
        for word in line.split()
    }
    return frozenset(words | {folded(word) for word in words})
