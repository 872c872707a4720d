"""The terms of one language: phrases as data, and their compiled form."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from string import ascii_lowercase
from typing import TYPE_CHECKING

from claimlens.classify.compounds import parts_of
from claimlens.classify.entries import Entry, Votes, merged
from claimlens.classify.languages import Language, folded
from claimlens.classify.spelling import Speller

if TYPE_CHECKING:
    from claimlens.classify.reading import Found
    from claimlens.classify.sentences import Stretch

__all__ = ["FORM", "NUMBER", "UNKNOWN", "Lexicon", "Node"]

# "l'", "n'" and their like stand before the word that they belong to
FORM = re.compile(r"(?:[cdjlmnst]|qu)'(?=[^\W_])|[^\W_]+(?:'[a-z]+)?|#")
# Stand for any number, in the terms and in a text, and for any other word.
NUMBER = "#"
UNKNOWN = "_"
# Full stops end what a negation reaches, commas only part it.
_STOPS = dict.fromkeys((".", ";", "!", "?", "\n", "-", "--", "–", "—"), "hard")
_STOPS |= dict.fromkeys((",", "(", ")", ":"), "soft")
_CACHE_LIMIT = 400_000
_SHORTEST_COMPOUND = 7
_COMPOUNDED = frozenset({"part", "lead", "joint", "mode", "fault", "work", "small"})
_CASES = ("n", "en", "e", "s", "es", "er", "t")
# Only words of these groups are worth mending; small words cost more than they give.
_SPELT = frozenset({"part", "lead", "joint", "sign", "mode"})


class Node(dict[str, "Node"]):
    """A word in the tree of phrases; ``entry`` is set where a phrase ends."""

    __slots__ = ("entry",)

    def __init__(self) -> None:
        super().__init__()
        self.entry: Entry | None = None


class Lexicon:
    """The compiled terms of one language: resolves words and holds phrases.

    Parameters
    ----------
    language : Language
        How its words are bent.
    entries : list of Entry
        Its phrases.

    Attributes
    ----------
    language : Language
        As given.
    tree, danger : Node
        Phrases of all groups, and those of danger.
    particles : frozenset of str
        Stems of the second parts of verbs that part ("fällt .. aus").
    abbreviations : frozenset of str
        Words and letters after which a dot is no full stop.
    denials : frozenset of str
        Words that tell "there is none" from "it is not", or "it is not this".
    known : dict of str to str
        Words resolved so far.
    memory : dict
        What was found in texts of the same words.
    stretches : dict
        What was found in sentences of the same words.
    meanings : dict
        Failure modes by component and the phrases said of it.
    """

    def __init__(self, language: Language, entries: Iterable[Entry]) -> None:
        self.language = language
        entries = list(entries)
        self.tree = Node()
        self.danger = Node()
        self._skip = self._stems(entries, "skip")
        self._deniers = self._stems(entries, "not")
        self.particles = frozenset(map(language.stem, language.particles))
        self._words: set[str] = set()
        for entry in entries:
            if entry.group in ("danger", "harmless"):
                self._plant(self.danger, entry)
            elif entry.group != "skip":
                self._plant(self.tree, entry)
        self._borrow(self.tree, [])
        raw = {
            folded(word)
            for entry in entries
            if entry.group in _SPELT
            for word in FORM.findall(entry.text)
        }
        self._speller = Speller(
            raw | {word + "s" for word in raw if word[-1] != "s"},
            language.ordinary | language.small,
        )
        # single words that name a part or a fault: what compounds are made of
        self._tellers = {
            self.language.stem(entry.text): entry.group
            for entry in entries
            if entry.group in _COMPOUNDED and FORM.fullmatch(entry.text)
        }
        self._listed = {
            folded(word)
            for entry in entries
            if entry.group in _COMPOUNDED
            for word in FORM.findall(entry.text)
        } | {folded(form) for form in language.forms}
        for sign, group in _STOPS.items():
            node = self.tree[sign] = Node()
            node.entry = Entry(sign, group)
        self.abbreviations = language.abbreviations | frozenset(ascii_lowercase)
        self.denials = frozenset(
            word for phrase in language.absent for word in phrase.split()
        ).union(language.it)
        self.memory: dict[tuple[str, ...], Found] = {}
        self.stretches: dict[tuple[str, ...], Stretch] = {}
        self.meanings: dict[tuple[str | int, ...], Votes] = {}
        # what each word met so far resolves to
        self.known: dict[str, str] = {sign: sign for sign in _STOPS}

    def __getstate__(self) -> dict[str, object]:
        """Leave behind what was learnt from texts: another process has its own."""
        passing = ("memory", "stretches", "meanings")
        return {**self.__dict__, **{name: {} for name in passing}}

    def _stems(self, entries: list[Entry], group: str) -> set[str]:
        """Return the stems of the single words of a group."""
        return {
            self.language.stem(entry.text)
            for entry in entries
            if entry.group == group and " " not in entry.text
        }

    def words_of(self, text: str) -> list[str]:
        """Return the stems of a phrase of the data, without skipped words."""
        stems = [self.language.stem(_whole(w)) for w in FORM.findall(text)]
        return [s for s in stems if s not in self._skip] or stems

    def _plant(self, tree: Node, entry: Entry) -> None:
        words = self.words_of(entry.text)
        if not words:
            return
        alone = len(words) == 1 and words[0] in self._deniers
        if alone and entry.group not in ("not", "without"):
            # what is left of "n'a plus" denies, and nothing else
            return
        self._words.update(words)
        orders = [words]
        back = self.language.denies_back and words[0] in self._deniers
        if len(words) > 1 and back:
            # "nicht geladen", "lädt nicht"
            orders.append([*words[1:], words[0]])
        for order in orders:
            node = tree
            for word in order:
                node = node.setdefault(word, Node())
            node.entry = entry if node.entry is None else merged(node.entry, entry)

    def _borrow(self, node: Node, words: list[str]) -> None:
        """Give long phrases the readings of the shorter ones inside them.

        "Stuck at" is said of a display in its own way; said of a throttle it
        must still mean what "stuck" means.
        """
        entry = node.entry
        if entry is not None and entry.group == "mode" and self._is_denial(words):
            node.entry = entry = replace(entry, fault=True, denies=True)
        if entry is not None and entry.group == "mode" and len(words) > 1:
            inner = self._inside(words)
            if inner is not None and all(c is not None for c, _, _ in entry.modes):
                own = {component for component, _, _ in entry.modes}
                more = tuple(m for m in inner.modes if m[0] not in own)
                fault = entry.fault or inner.group == "fault" or inner.fault
                node.entry = replace(entry, modes=entry.modes + more, fault=fault)
        for word, child in node.items():
            self._borrow(child, [*words, word])

    def _is_denial(self, words: list[str]) -> bool:
        """Tell whether a phrase is no more than a denied deed ("not work")."""
        others = [word for word in words if word not in self._deniers]
        if len(others) != 1 or len(words) == 1:
            return False
        node = self.tree.get(others[0])
        entry = None if node is None else node.entry
        return entry is not None and entry.group in ("good", "does")

    def _inside(self, words: list[str]) -> Entry | None:
        """Return the longest fault that a phrase holds, the first of equals."""
        for length in range(len(words) - 1, 0, -1):
            for start in range(len(words) - length + 1):
                node: Node | None = self.tree
                for word in words[start : start + length]:
                    node = node.get(word) if node is not None else None
                found = node.entry if node is not None else None
                if found is not None and found.group in ("mode", "fault"):
                    return found
        return None

    def resolve(self, token: str) -> str:
        """Return the stem of a word of a text.

        Parameters
        ----------
        token : str
            One lower-case word.

        Returns
        -------
        str
            The stem that the phrases use, several with a blank between them
            for a compound; ``"_"`` for a word that no phrase knows, and an
            empty string for one that is passed over.
        """
        found = self.known.get(token)
        if found is None:
            found = self._resolve(token)
            if len(self.known) < _CACHE_LIMIT:
                self.known[token] = found
        return found

    def _resolve(self, token: str) -> str:
        if token[0].isdigit() and token[-1].isdigit():
            return token if token in self._words else NUMBER
        if token[-1] == "'":
            return self._known(_whole(token)) or ""
        word = token.removesuffix("'s")
        stem = self._known(word)
        word = folded(word)
        if stem is None and word.isalpha():
            target = self._speller.correct(word)
            stem = self._known(target) if target else None
        if stem is None and self.language.compounds and self._can_be_cut(word):
            stems = parts_of(word, self._begin, self._end, UNKNOWN)
            stem = " ".join(stems) if stems else None
        return UNKNOWN if stem is None else stem

    def _begin(self, word: str) -> str | None:
        """Return the stem of a word that can stand first in a compound."""
        stem = self._known(word)
        return stem if stem and stem in self._tellers else None

    def _end(self, word: str) -> str | None:
        """Return the stem of a word that can stand last in a compound.

        Only words as the terms list them, but for their case: the "alter" in
        "veranstalter" shares a stem with "Alterung" and means nothing.
        """
        for ending in ("", *_CASES):
            if word.endswith(ending) and word.removesuffix(ending) in self._listed:
                return self._begin(word)
        return None

    def _can_be_cut(self, word: str) -> bool:
        """Tell whether a word can be a compound: long, and no everyday word."""
        return (
            len(word) >= _SHORTEST_COMPOUND
            and word.isalpha()
            and word not in self.language.small
            and word not in self.language.ordinary
        )

    def _known(self, word: str) -> str | None:
        """Return the stem of a word that the terms know; empty if skipped."""
        stem = self.language.stem(word)
        if stem in self._skip:
            return ""
        return stem if stem in self._words else None


def _whole(word: str) -> str:
    """Return an elided word in full: "d'" is "de"."""
    return word[:-1] + "e" if word[-1] == "'" else word
