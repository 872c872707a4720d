"""Which words are ordinary, which are names, which can be both."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from claimlens.redact import cues
from claimlens.redact.plain import folded

__all__ = ["Words", "words"]

_SUFFIXES = (
    "",
    *("e", "n", "s", "r", "t", "d", "en", "er", "es", "em", "te", "ed", "st", "ly"),
    *("ten", "tes", "ter", "ern", "ung", "ing", "end", "ers", "les", "als", "ig"),
    *("ige", "igen", "ungen", "ings", "enden", "ende", "heit", "keit", "chen", "lich"),
    *("liche", "lichen", "isch", "ische", "in", "innen", "ment", "ments", "able"),
    *(
        "tje",
        "tjes",
        "je",
        "jes",
        "lijk",
        "lijke",
        "mente",
        "ness",
        "less",
        "los",
        "lose",
    ),
)
_ENDINGS = ("", "e", "en", "n", "er", "t", "s", "r", "a", "o")
_LINKS = ("", "s", "n", "en", "es", "e", "er")
# Compounds that end so are as a rule names of people or places.
_NAME_ENDS = (
    *("mann", "man", "bach", "berg", "berger", "hauser", "huber", "meir", "maier"),
    *(
        "mayr",
        "meyer",
        "mayer",
        "muller",
        "bruner",
        "brunner",
        "stein",
        "feld",
        "feldt",
    ),
    *("hof", "hoff", "dorf", "thal", "stra", "sen", "son", "sma", "inga", "stetter"),
    *("bauer", "bur", "baur", "heim", "hagen", "wald", "weiler", "furt", "burg"),
    *("hofer", "becker", "beck", "schmidt", "schmid", "schulz", "reiter", "egger"),
    *("hausen", "inger", "veld", "huis", "horst", "kamp", "stad", "ville", "ton"),
    *("lein", "mans", "wijk", "hoven", "rode"),
    *("gau", "ingen", "walde", "kirchen", "kirch", "munster", "hofen", "stedt", "zell"),
    *("bronn", "buttel", "fehn", "scheid", "born", "rath", "brunn", "roda", "wurth"),
)
# Words for what a form asks.
_LABELS = ("nummer", "numer", "nummern", "adress", "adresse", "adres", "beleg", "datum")
_LONGEST = 40
_ANNOUNCING = (
    cues.TITLES | cues.ROLES | cues.SIGNED | cues.GREETINGS | cues.THANKS | cues.SAID
)


def _read(name: str) -> frozenset[str]:
    """Return the words of a shipped list, folded."""
    path = files("claimlens.redact").joinpath("data", f"{name}.txt")
    lines = path.read_text(encoding="utf-8").splitlines()
    return frozenset(
        folded("\n".join(line for line in lines if line[:1] != "#")).split()
    )


@dataclass(frozen=True, slots=True)
class Words:
    """The lists, folded; made by ``words``.

    Attributes
    ----------
    given, family, rare : frozenset of str
        Given names that are no ordinary words; family names; family names that
        are no ordinary words, rare ones among them.
    both : frozenset of str
        Given names that are ordinary words too.
    eponyms : frozenset of str
        Names that things of the trade bear: "Allen key", "Hall sensor".
    towns : frozenset of str
        Towns and regions.
    small : frozenset of str
        Articles, pronouns and the like of five languages.
    trade : frozenset of str
        Words of the trade and of everyday speech that the classifier knows.
    ordinary : frozenset of str
        All ordinary words, those of the trade among them.
    """

    given: frozenset[str]
    family: frozenset[str]
    rare: frozenset[str]
    both: frozenset[str]
    eponyms: frozenset[str]
    towns: frozenset[str]
    small: frozenset[str]
    trade: frozenset[str]
    ordinary: frozenset[str]

    def known(self, word: str) -> bool:
        """Tell whether a folded word is ordinary, bent or compounded as may be."""
        return _known(self, word)

    def listed(self, word: str) -> bool:
        """Tell whether a folded word is ordinary, bent as may be, not compounded."""
        return word in self.ordinary or (len(word) > 3 and _bent(self, word))

    def near_trade(self, word: str) -> bool:
        """Tell whether a folded word is one slip away from a word of the trade."""
        return _near(self, word)

    def __hash__(self) -> int:
        """Hash by identity: the lists do not change."""
        return id(self)

    def __eq__(self, other: object) -> bool:
        """Compare by identity."""
        return self is other


@lru_cache(maxsize=1)
def words() -> Words:
    """Return the shipped lists, read once."""
    trade = _read("trade") | _ANNOUNCING
    names = ("given", "family", "family_rare", "both", "eponyms", "towns", "small")
    given, family, rare, both, eponyms, towns, small = map(_read, names)
    small |= cues.ARTICLES | cues.JOINERS | cues.PARTICLES
    return Words(
        given=given - eponyms - both,
        family=family,
        rare=rare | family,
        both=both | eponyms,
        eponyms=eponyms,
        towns=towns,
        small=small,
        trade=trade | eponyms,
        ordinary=_read("words") | trade | small | eponyms,
    )


def _bent(lists: Words, word: str) -> bool:
    """Tell whether a word is ordinary once its ending is changed."""
    for suffix in _SUFFIXES:
        if suffix and not word.endswith(suffix):
            continue
        stem = word[: len(word) - len(suffix)]
        if len(stem) < 3:
            continue
        if any(stem + ending in lists.ordinary for ending in _ENDINGS):
            return True
    return False


@lru_cache(maxsize=200_000)
def _known(lists: Words, word: str) -> bool:
    if word in lists.ordinary:
        return True
    if len(word) < 4 or len(word) > _LONGEST:
        return False
    if word.endswith(_LABELS):
        return True
    if _bent(lists, word):
        return True
    return not word.endswith(_NAME_ENDS) and _compound(lists, word, 3)


def _compound(lists: Words, word: str, parts: int) -> bool:
    """Tell whether a word is made of ordinary ones."""
    for cut in range(len(word) - 3, 2, -1):
        head, tail = word[:cut], word[cut:]
        if len(head) + len(tail) < 8 or not _part(lists, tail):
            continue
        for link in _LINKS:
            if link and not head.endswith(link):
                continue
            first = head[: len(head) - len(link)]
            if len(first) > 2 and (first in lists.trade or _part(lists, first)):
                return True
            if parts > 2 and len(first) > 6 and _compound(lists, first, parts - 1):
                return True
    return False


def _part(lists: Words, word: str) -> bool:
    """Tell whether a word may be part of a compound."""
    if len(word) < 4:
        return word in lists.trade and word not in lists.given
    return word in lists.ordinary or _bent(lists, word)


@lru_cache(maxsize=50_000)
def _near(lists: Words, word: str) -> bool:
    if not 6 <= len(word) <= 24:
        return False
    letters = "abcdefghijklmnopqrstuvwxyz"
    for cut in range(len(word) + 1):
        head, tail = word[:cut], word[cut:]
        edits = [head + tail[1:]] if tail else []
        if len(tail) > 1:
            edits.append(head + tail[1] + tail[0] + tail[2:])
        edits += [head + letter + tail for letter in letters]
        edits += [head + letter + tail[1:] for letter in letters]
        if any(edit in lists.trade for edit in edits):
            return True
    return False
