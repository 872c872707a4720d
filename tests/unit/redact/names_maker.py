"""Gather the names and the ordinary words that are shipped, and write them.

To be run from the root of a checkout, with the packages below unpacked in one folder:

    python tests/unit/redact/names_maker.py FOLDER

- ``faker`` (PyPI, MIT): given names, family names and towns of many countries.
- ``names`` (PyPI, MIT): the names of the United States census of 1990, public domain.
- ``pyspellchecker`` (PyPI, MIT): words of five languages with their frequencies.
- ``an-array-of-english-words``, ``-french-`` and ``-spanish-words`` (npm, MIT): which
  words of the lists above are no names.

The words of the trade are those of ``claimlens/classify/data``.
"""

from __future__ import annotations

import gzip
import importlib
import json
import re
import sys
from collections.abc import Iterable
from pathlib import Path

from claimlens.redact.plain import folded
from claimlens.redact.words import Words

ROOT = Path(__file__).resolve().parents[3]
TRADE = ROOT / "claimlens" / "classify" / "data"
DATA = ROOT / "claimlens" / "redact" / "data"
LANGUAGES = ("de", "en", "es", "fr", "nl")
LOCALES = (
    "cs_CZ",
    "da_DK",
    "de",
    "de_AT",
    "de_CH",
    "de_DE",
    "de_LI",
    "de_LU",
    "en",
    "en_GB",
    "en_IE",
    "en_IN",
    "en_NZ",
    "en_PK",
    "en_US",
    "es",
    "es_AR",
    "es_CA",
    "es_CL",
    "es_CO",
    "es_ES",
    "es_MX",
    "fi_FI",
    "fr_BE",
    "fr_CA",
    "fr_CH",
    "fr_DZ",
    "fr_FR",
    "hr_HR",
    "hu_HU",
    "it_IT",
    "lt_LT",
    "lv_LV",
    "nl_BE",
    "nl_NL",
    "no_NO",
    "pl_PL",
    "pt_BR",
    "pt_PT",
    "ro_RO",
    "sk_SK",
    "sl_SI",
    "sv_SE",
    "tr_TR",
)
# A word met so often is a word of its language, whoever bears it as a name.
_COMMON = {"de": 300, "nl": 1000}
_LATIN = re.compile(r"[^\W\d_]+(?:[ '’-][^\W\d_]+)*")
_WORD = re.compile(r"[^\W\d_]+")
_HEADS = {
    "given": "Given names. From the packages faker (MIT) and names (MIT; the\n"
    "# census of 1990 of the United States, public domain).",
    "family": "Family names. From the package faker (MIT).",
    "family_rare": "Family names of the census of 1990 of the United States (public\n"
    "# domain, by the package names, MIT) that are no ordinary words.",
    "both": "Given names that are also words; from tests/unit/redact/both.txt.",
    "eponyms": "Names that things bear; from tests/unit/redact/eponyms.txt.",
    "towns": "Towns and regions. From the package faker (MIT).",
    "small": "Articles, pronouns and the like. From claimlens/classify/data.",
    "trade": "Words of the trade and everyday words. From claimlens/classify/data.",
    "words": "Further ordinary words of five languages. From the package\n"
    "# pyspellchecker (MIT).",
}


def lower(texts: Iterable[str]) -> set[str]:
    """Return the words of names and phrases in lower case."""
    return {w for text in texts for w in _WORD.findall(text.lower())}


def provided(kind: str, starts: tuple[str, ...], outright: tuple[str, ...]) -> set[str]:
    """Return what the providers of the locales list under names that start so."""
    found: set[str] = set()
    for locale in LOCALES:
        try:
            module = importlib.import_module(f"faker.providers.{kind}.{locale}")
        except ModuleNotFoundError:
            continue
        for name, value in vars(module.Provider).items():
            listed = name.startswith(starts) or name in outright
            if listed and isinstance(value, dict | list | tuple | set | frozenset):
                items = [i if isinstance(i, str) else i[-1] for i in value]
                found |= {i for i in items if _LATIN.fullmatch(i)}
    return found


def trade_words() -> set[str]:
    """Return all words of the terms and word lists of the classifier."""
    found: set[str] = set()
    for path in TRADE.iterdir():
        if path.suffix in (".csv", ".txt") and not path.name.startswith("stems"):
            found |= lower([path.read_text(encoding="utf-8")])
    return found


def frequencies(folder: Path, language: str) -> dict[str, int]:
    """Return the words of a language with how often each was met."""
    path = folder / "spellchecker" / "resources" / f"{language}.json.gz"
    with gzip.open(path, "rt", encoding="utf-8") as file:
        return dict(json.load(file))


def census(folder: Path, name: str, at_least: float) -> set[str]:
    """Return the names of a list of the census, in lower case."""
    rows = (line.split() for line in (folder / "names" / name).open())
    return {row[0].lower() for row in rows if float(row[1]) >= at_least}


def no_names(folder: Path) -> set[str]:
    """Return the words of lists that hold no names."""
    found: set[str] = set()
    for language in ("english", "french", "spanish"):
        path = folder / f"an-array-of-{language}-words" / "package" / "index.json"
        found |= set(json.loads(path.read_text(encoding="utf-8")))
    return found


def ordinary(folder: Path, names: set[str]) -> set[str]:
    """Return the words that are ordinary in one language at least."""
    proper = no_names(folder)
    found: set[str] = set()
    for language in LANGUAGES:
        for word, count in frequencies(folder, language).items():
            rare = count <= 50
            # of the rare ones only German nouns matter, as others are not capitalised
            if not _WORD.fullmatch(word) or (rare and language != "de"):
                continue
            common = count > _COMMON.get(language, 10**9)
            if word not in names or common or (not rare and word in proper):
                found.add(word)
    return found


def needed(found: set[str], trade: set[str], rare: set[str]) -> set[str]:
    """Return the words without those that are made of others by rule."""
    base = {folded(w) for w in (found - rare) | trade}
    empty: frozenset[str] = frozenset()
    lists = Words(*[empty] * 7, frozenset(map(folded, trade)), frozenset(base))
    more = {w for w in rare if len(w) <= 12 and not lists.known(folded(w))}
    return {w for w in found - trade if w not in rare} | more


def handwritten(name: str) -> set[str]:
    """Return the words of a list beside this script."""
    lines = Path(__file__).with_name(f"{name}.txt").read_text("utf-8").splitlines()
    return {w for line in lines if line[:1] != "#" for w in line.split()}


def write(name: str, words: set[str]) -> None:
    """Write one list, packed in lines, with its source on top."""
    lines = [
        f"# {_HEADS[name]}",
        f"# Written by tests/unit/redact/{Path(__file__).name}.",
    ]
    line = ""
    for word in sorted(words):
        if len(line) + len(word) > 86:
            lines.append(line)
            line = ""
        line = f"{line} {word}".strip()
    (DATA / f"{name}.txt").write_text("\n".join([*lines, line, ""]), encoding="utf-8")


def main(folder: Path) -> None:
    """Write all lists."""
    sys.path.insert(0, str(folder))
    both, never = handwritten("both"), handwritten("never")
    people = set(map(folded, handwritten("people")))
    trade = {w for w in trade_words() if folded(w) not in people}
    given = lower(provided("person", ("first_name", "prefixed_first"), ()))
    given |= census(folder, "dist.female.first", 0.002)
    given |= census(folder, "dist.male.first", 0.002)
    given = {w for w in given if len(w) > 1} - both
    # "Márk" is a name, but "mark" without its accent is a word
    alike = set(map(folded, trade - given))
    both |= {w for w in given - trade if folded(w) in alike}
    barred = set(map(folded, never))
    given = {w for w in given - both if folded(w) not in barred}
    both = {w for w in both if folded(w) not in barred}
    family = {w for w in lower(provided("person", ("last_name",), ())) if len(w) > 2}
    towns = lower(
        provided(
            "address",
            ("cit", "town", "state", "provi", "region", "depart", "canton"),
            (),
        )
    )
    found = ordinary(folder, given | family) - given
    found = {w for w in found if folded(w) not in people}
    german = frequencies(folder, "de")
    seldom = {w for w, count in german.items() if count <= 50}
    for language in LANGUAGES:
        often = frequencies(folder, language)
        seldom -= {w for w, count in often.items() if count > 50}
    every = needed(found, trade, seldom & found)
    rare = {w for w in census(folder, "dist.all.last", 0.0) if len(w) > 3}
    small = lower(
        line
        for language in LANGUAGES
        for line in (TRADE / f"small_{language}.txt").read_text("utf-8").splitlines()
        if line[:1] != "#"
    )
    family = {w for w in family if folded(w) not in barred}
    trade |= never
    rare -= never
    write("given", given)
    write("both", both)
    write("eponyms", handwritten("eponyms"))
    write("family", family - small)
    write("family_rare", rare - family - given - found - trade)
    write("towns", {w for w in towns if len(w) > 3} - small)
    write("small", small)
    write("trade", trade - given)
    write("words", every - given)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
