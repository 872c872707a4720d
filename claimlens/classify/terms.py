"""The terms in force: a lexicon for each language, and everything's digest."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

from claimlens.classify.collector import uncollected
from claimlens.classify.detection import LanguageFinder
from claimlens.classify.entries import Entry, entries_of
from claimlens.classify.languages import (
    folded,
    language_codes,
    language_texts,
    load_language,
    word_list,
)
from claimlens.classify.lexicon import FORM, Lexicon
from claimlens.classify.taxonomy import Taxonomy, shipped
from claimlens.errors import SettingsError

__all__ = ["Entry", "Lexicon", "Terms", "load_terms"]


# Lexicons that this process has compiled, by digest of the terms and language:
# workspaces with the same terms share them.
_SHARED: dict[tuple[str, str], Lexicon] = {}
_KEPT = 15


class Source(NamedTuple):
    """What the lexicon of one language is compiled from.

    Parameters
    ----------
    text : str
        The shipped terms; empty where they are replaced.
    own : tuple of Entry
        The workspace's own phrases.
    small, trade : set of str
        Words by which the language is recognised.
    """

    text: str
    own: tuple[Entry, ...]
    small: frozenset[str]
    trade: set[str]


class Terms:
    """Everything that reads texts.

    Parameters
    ----------
    taxonomy : Taxonomy
        What the terms lead to.
    sources : dict of str to Source
        What each language is compiled from, once a text needs it; the first
        language settles doubts.
    digest : str
        SHA-256 of everything that decides; results record it.
    small_words_of : dict of str to frozenset of str
        Words that tell nothing of a fault, by language.
    """

    def __init__(
        self, taxonomy: Taxonomy, sources: dict[str, Source], digest: str
    ) -> None:
        self.taxonomy = taxonomy
        self.digest = digest
        self._sources = sources
        self._compiled: dict[str, Lexicon] = {}
        small = {code: source.small for code, source in sources.items()}
        trade = {code: source.trade - small[code] for code, source in sources.items()}
        unread = word_list(shipped("unread.txt"))
        self.small_words_of = small
        self._finder = LanguageFinder({**small, "": unread}, trade)

    def __getstate__(self) -> dict[str, object]:
        """Leave behind what was compiled: another process has its own.

        It compiles a language in less time than it takes to send it.
        """
        return {**self.__dict__, "_compiled": {}}

    @property
    def small_words(self) -> frozenset[str]:
        """The small words of all languages."""
        return frozenset().union(*self.small_words_of.values())

    @property
    def lexicons(self) -> dict[str, Lexicon]:
        """The lexicons of all languages."""
        return {code: self.lexicon(code) for code in self._sources}

    def lexicon(self, code: str) -> Lexicon:
        """Return the lexicon of a language, compiled when it is first asked for."""
        compiled = self._compiled.get(code)
        if compiled is None:
            compiled = _SHARED.get((self.digest, code))
        if compiled is None:
            source = self._sources[code]
            entries = list(source.own)
            if source.text:
                name = f"terms_{code}.csv"
                for rows in entries_of(source.text, name, self.taxonomy).values():
                    entries = [*rows, *entries]
            with uncollected():
                compiled = Lexicon(load_language(code), entries)
            while len(_SHARED) >= _KEPT:
                del _SHARED[next(iter(_SHARED))]
            _SHARED[self.digest, code] = compiled
        self._compiled[code] = compiled
        return compiled

    def languages_of(self, tokens: list[str]) -> list[str]:
        """Return the languages that a text may be in, likeliest first.

        Parameters
        ----------
        tokens : list of str
            Its words in lower case, as ``reading.tokens_of`` cuts them.

        Returns
        -------
        list of str
            Codes of ``lexicons``, or ``""`` first for another language; those
            after the first are nearly as likely. Where no word is known, the
            language that can mend the most of them, empty if none can.
        """
        found = self._finder.rank(tokens)
        if found:
            return found
        mended = [
            (sum(len(lexicon.resolve(token)) > 1 for token in tokens), code)
            for code, lexicon in self.lexicons.items()
        ]
        best = max(count for count, _ in mended)
        return [code for count, code in mended if count == best > 0][:1]


# Shipped files that decide, beside those of each language.
_DECIDING = ("danger_rules.csv", "unread.txt", "evidence_weights.csv")


def _own_texts(extra: Path | None) -> list[tuple[str, str]]:
    if extra is None:
        return []
    try:
        return [(extra.name, extra.read_text(encoding="utf-8-sig"))]
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(
            f"The terms file {extra.name} cannot be read.",
            source=str(extra),
            remedy="give a CSV file in UTF-8",
        ) from error


def _rules() -> Iterable[str]:
    """Return the code of this room: the rules decide as much as the words do."""
    room = files("claimlens.classify")
    for module in sorted(room.iterdir(), key=lambda path: path.name):
        if module.name.endswith(".py"):
            yield module.read_text(encoding="utf-8")


@lru_cache(maxsize=16)
def _trade_of(code: str) -> frozenset[str]:
    """Return the words of the shipped terms, with and without accents."""
    words: set[str] = set()
    for line in shipped(f"terms_{code}.csv").lower().splitlines()[1:]:
        # the phrases stand last in a row
        words.update(FORM.findall(line.rpartition(",")[2]))
    return frozenset(words | {folded(word) for word in words})


def load_terms(
    taxonomy: Taxonomy,
    extra: Path | None = None,
    *,
    languages: Collection[str] | None = None,
    replace: Collection[str] = (),
) -> Terms:
    """Load and compile the terms.

    Parameters
    ----------
    taxonomy : Taxonomy
        What the terms lead to; rows for names that it lacks are left out.
    extra : Path, optional
        A CSV of a workspace with the columns of the shipped files
        (``group, component, failure_mode, weight, terms``), added to them. A
        column ``language`` tells where a row belongs; without it the row holds
        in every language.
    languages : collection of str, optional
        Languages that are read; the first settles doubts. All by default.
    replace : collection of str, optional
        Languages whose shipped terms are left out: only ``extra`` counts.

    Returns
    -------
    Terms

    Raises
    ------
    SettingsError
        If a file cannot be read, a row names an unknown group or weight, or a
        language is not known.
    """
    codes = tuple(languages or language_codes())
    own = _own_texts(extra)
    added: dict[str, list[Entry]] = {}
    for name, text in own:
        for code, rows in entries_of(text, name, taxonomy).items():
            added.setdefault(code, []).extend(rows)
    _refuse_unknown({*added, *replace} - {""}, codes, extra)
    whole = [shipped(name) for name in _DECIDING]
    whole += [text for _, text in own]
    whole += [repr(codes), repr(sorted(replace))]
    sources: dict[str, Source] = {}
    for code in codes:
        small, grammar = language_texts(code)
        text = "" if code in replace else shipped(f"terms_{code}.csv")
        entries = (*added.get("", ()), *added.get(code, ()))
        words = {word for entry in entries for word in FORM.findall(entry.text)}
        trade = words | {folded(word) for word in words}
        if text:
            trade |= _trade_of(code)
        sources[code] = Source(text, entries, small, trade)
        whole += [grammar, text]
    whole += [repr(sorted(taxonomy.component_names.items()))]
    whole += [repr(sorted(taxonomy.mode_names.items()))]
    whole += [repr(list(taxonomy.components.values()))]
    whole += [repr(list(taxonomy.modes.values()))]
    whole += _rules()
    digest = hashlib.sha256("\x1f".join(whole).encode()).hexdigest()
    return Terms(taxonomy, sources, digest)


def _refuse_unknown(
    named: Collection[str], codes: tuple[str, ...], extra: Path | None
) -> None:
    for code in sorted(named):
        if code not in codes:
            raise SettingsError(
                f"The language {code!r} of the terms is not read.",
                source=None if extra is None else str(extra),
                column="language",
                remedy=f"use one of: {', '.join(codes)}",
            )
