"""Match header texts with canonical fields by the words of six languages."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from claimlens.ingest.skips import fold
from claimlens.tables import TABLES

__all__ = ["HeaderMatch", "is_header_word", "match_header", "normal_words"]

_DATA = Path(__file__).parent / "data"
_LANGUAGES = {
    "en": "English",
    "de": "German",
    "fr": "French",
    "nl": "Dutch",
    "es": "Spanish",
    "it": "Italian",
}
_FILLERS = frozenset(
    (
        *("the", "of", "a", "an", "de", "du", "des", "d", "l", "la", "le", "les"),
        *("il", "lo", "el", "los", "las", "del", "della", "dello", "dei", "di"),
        *("der", "die", "das", "dem", "den", "van", "het", "een", "en", "et"),
        *("und", "y", "e", "and", "im", "in", "am", "on", "op"),
    )
)
_NUMBER_WORDS = frozenset(
    ("n", "nr", "no", "num", "numero", "number", "nummer", "nbr", "nro", "nummero")
)
_SHORT_FORMS = {
    "dt": "date",
    "dat": "datum",
    "amt": "amount",
    "desc": "description",
    "descr": "description",
    "kd": "kunde",
    "fzg": "fahrzeug",
}
_NUMBER_END = re.compile(r"(?<=[a-z])(?:nummer|numer|nr)$")
_BRACKETS = re.compile(r"\([^)]*\)|\[[^\]]*\]|\{[^}]*\}")
_UNITS = frozenset(
    (
        *("eur", "euro", "chf", "gbp", "usd", "cad", "aud", "sek", "nok", "dkk"),
        *("pln", "fr", "sfr", "km", "miles", "mi", "h", "hrs", "std", "netto"),
        *("net", "ht", "ttc", "hors", "taxe", "vat", "mwst", "tva", "btw", "iva"),
    )
)
_CAMEL = re.compile(r"(?<=[a-zà-ÿ\d])(?=[A-ZÀ-Þ])|(?<=[A-Z])(?=[A-Z][a-z])")
Offer = Callable[[str, float, str, frozenset[str]], None]

_FUZZY = 0.62
_LONGEST_HEADER = 80


@dataclass(frozen=True, slots=True)
class HeaderMatch:
    """A field that a header may name.

    Parameters
    ----------
    field : str
        Canonical field.
    score : float
        How well the words fit, 0 to 1; values are not considered.
    why : str
        The words that fit.
    languages : frozenset of str
        Languages of these words; empty where they belong to none.
    """

    field: str
    score: float
    why: str
    languages: frozenset[str]


def normal_words(text: str) -> list[str]:
    """Return the words of a header in one spelling.

    Case, accents, punctuation and the two spellings of umlauts are evened
    out, camel case is split, and every word for "number" becomes ``no``.
    """
    spaced = _CAMEL.sub(" ", text.strip().lstrip("^")).replace("#", " no ")
    words = []
    for word in fold(spaced.replace("№", " no ")).split():
        plain = word.replace("ae", "a").replace("oe", "o").replace("ue", "u")
        if plain in _NUMBER_WORDS:
            plain = "no"
        words.append(_SHORT_FORMS.get(plain, _NUMBER_END.sub("no", plain)))
    return words


@dataclass(frozen=True, slots=True)
class _Phrase:
    field: str
    text: str
    language: str
    weight: float
    joined: str
    loose: frozenset[str]
    grams: frozenset[str]


def _grams(joined: str) -> frozenset[str]:
    """Return the runs of three letters of a text, its ends marked."""
    padded = f"  {joined} "
    return frozenset(padded[at : at + 3] for at in range(len(padded) - 2))


def _phrase(field: str, text: str, language: str, weight: float) -> _Phrase:
    words = normal_words(text)
    loose = frozenset(words) - _FILLERS or frozenset(words)
    joined = "".join(words)
    return _Phrase(field, text, language, weight, joined, loose, _grams(joined))


@cache
def _phrases() -> tuple[_Phrase, ...]:
    """Return every phrase; the earlier in its list, the surer."""
    with (_DATA / "header_words.toml").open("rb") as stream:
        fields: dict[str, dict[str, list[str]]] = tomllib.load(stream)
    found = [
        _phrase(name, name, "canonical", 1.02)
        for name in dict.fromkeys(
            name for table in TABLES.values() for name in table.field_names
        )
    ]
    for name, languages in fields.items():
        for language, texts in languages.items():
            last = max(len(texts) - 1, 1)
            found += [
                _phrase(name, text, language, 1.0 - 0.15 * at / last)
                for at, text in enumerate(texts)
            ]
    return tuple(found)


@cache
def _by_joined() -> dict[str, tuple[_Phrase, ...]]:
    index: dict[str, tuple[_Phrase, ...]] = {}
    for phrase in _phrases():
        index[phrase.joined] = (*index.get(phrase.joined, ()), phrase)
    return index


@cache
def _by_loose() -> dict[frozenset[str], tuple[_Phrase, ...]]:
    index: dict[frozenset[str], tuple[_Phrase, ...]] = {}
    for phrase in _phrases():
        index[phrase.loose] = (*index.get(phrase.loose, ()), phrase)
    return index


@cache
def _by_word() -> dict[str, list[int]]:
    index: dict[str, list[int]] = {}
    for at, phrase in enumerate(_phrases()):
        for word in phrase.loose:
            index.setdefault(word, []).append(at)
    return index


@cache
def _by_gram() -> dict[str, list[int]]:
    index: dict[str, list[int]] = {}
    for at, phrase in enumerate(_phrases()):
        for gram in phrase.grams:
            index.setdefault(gram, []).append(at)
    return index


@cache
def _stems() -> dict[str, tuple[str, ...]]:
    with (_DATA / "header_stems.toml").open("rb") as stream:
        stems: dict[str, list[str]] = tomllib.load(stream)["date_stems"]
    return {name: tuple(found) for name, found in stems.items()}


def _variants(header: str) -> Iterator[tuple[list[str], float]]:
    """Yield spellings of a header to look up, with a factor for each."""
    yield normal_words(header), 1.0
    bare = _BRACKETS.sub(" ", header)
    if bare.strip() and bare != header:
        yield normal_words(bare), 0.99
    without = [word for word in normal_words(bare or header) if word not in _UNITS]
    if without:
        yield without, 0.98
    segments = re.split(r"[./>]", header.lstrip("^"))
    last = segments[-1].strip()
    if len(segments) > 1 and len(last) > 1:
        yield normal_words(" ".join(segments[-2:])), 0.99
        yield normal_words(last), 0.9


@lru_cache(maxsize=4096)
def is_header_word(text: str) -> bool:
    """Tell whether a text is, word for word, a header of some field.

    Parameters
    ----------
    text : str
        A cell.

    Returns
    -------
    bool
        True for any phrase of the word lists, in any spelling.
    """
    if not text or len(text) > _LONGEST_HEADER:
        return False
    for words, _ in _variants(text):
        if words == ["no"]:
            continue  # "no" is also an answer
        if "".join(words) in _by_joined():
            return True
        loose = frozenset(words) - _FILLERS
        if len(loose) > 1 and loose in _by_loose():
            return True
    return False


@lru_cache(maxsize=4096)
def match_header(text: str) -> tuple[HeaderMatch, ...]:
    """Return the fields that a header may name, best first.

    Parameters
    ----------
    text : str
        The header.

    Returns
    -------
    tuple of HeaderMatch
        At most one a field; empty where no word fits.
    """
    best: dict[str, HeaderMatch] = {}

    def offer(field: str, score: float, why: str, languages: frozenset[str]) -> None:
        known = best.get(field)
        if known is None or score > known.score:
            best[field] = HeaderMatch(field, min(score, 1.0), why, languages)

    if not text or len(text) > _LONGEST_HEADER:
        return ()
    for words, factor in _variants(text):
        loose = frozenset(words) - _FILLERS
        for phrases, share in (
            (_by_joined().get("".join(words), ()), factor),
            (_by_loose().get(loose, ()), 0.96 * factor),
        ):
            spoken = _languages(phrases)
            for phrase in phrases:
                weight = share * phrase.weight
                offer(phrase.field, weight, _why(phrase), spoken[phrase.field])
    # values may speak against the best words, so weaker ones are kept as well
    _offer_alike(text, offer)
    _offer_stems(text, offer)
    return tuple(sorted(best.values(), key=lambda match: (-match.score, match.field)))


def _languages(phrases: tuple[_Phrase, ...]) -> dict[str, frozenset[str]]:
    """Return the languages of each field; none for a canonical name."""
    found: dict[str, set[str]] = {}
    for phrase in phrases:
        found.setdefault(phrase.field, set()).add(phrase.language)
    return {
        name: frozenset() if "canonical" in spoken else frozenset(spoken)
        for name, spoken in found.items()
    }


def _why(phrase: _Phrase) -> str:
    if phrase.language == "canonical":
        return "canonical name"
    return f"header word {phrase.text!r} ({_LANGUAGES[phrase.language]})"


def _spoken(phrase: _Phrase) -> frozenset[str]:
    return frozenset({phrase.language} - {"canonical"})


def _offer_alike(text: str, offer: Offer) -> None:
    """Offer fields whose phrases are contained in the header or spelt alike."""
    words = [word for word in normal_words(_BRACKETS.sub(" ", text)) if word]
    loose = frozenset(words) - _FILLERS - _UNITS
    joined = "".join(words)
    grams = _grams(joined)
    size = max(sum(map(len, loose)), 1)
    contained = {
        index
        for word in loose
        for index in _by_word().get(word, ())
        if _phrases()[index].loose < loose
    }
    for index in contained:
        phrase = _phrases()[index]
        covered = sum(map(len, phrase.loose)) / size
        if covered >= 0.45:
            offer(
                phrase.field,
                (0.5 + 0.35 * covered) * phrase.weight,
                f"contains {phrase.text!r}",
                _spoken(phrase),
            )
    if len(joined) < 5:
        return
    shared = Counter(index for gram in grams for index in _by_gram().get(gram, ()))
    for index, common in shared.items():
        phrase = _phrases()[index]
        alike = 2 * common / (len(grams) + len(phrase.grams))
        if index not in contained and alike >= _FUZZY and len(phrase.joined) >= 5:
            offer(
                phrase.field,
                (0.35 + 0.5 * alike) * phrase.weight,
                f"spelt like {phrase.text!r}",
                _spoken(phrase),
            )


def _offer_stems(text: str, offer: Offer) -> None:
    """Offer date fields whose stems stand in the header."""
    joined = " ".join(normal_words(text))
    hits = {
        name: stem
        for name, stems in _stems().items()
        for stem in stems
        if stem in joined
    }
    for name, stem in hits.items():
        offer(name, 0.64 if len(hits) == 1 else 0.6, f"contains {stem!r}", frozenset())
