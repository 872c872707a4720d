"""The terms of one language: phrases as data, and their compiled form."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from claimlens.classify.compounds import parts_of
from claimlens.classify.languages import Language, folded
from claimlens.classify.spelling import Speller
from claimlens.classify.taxonomy import Taxonomy, read_rows
from claimlens.errors import SettingsError

if TYPE_CHECKING:
    from claimlens.classify.reading import Found

__all__ = [
    "FORM",
    "GROUPS",
    "NUMBER",
    "UNKNOWN",
    "Entry",
    "Lexicon",
    "Node",
    "Votes",
    "entries_of",
]

Votes = tuple[tuple[str, float], ...]

# One phrase belongs to one group; where it is listed in several, the group
# that stands first here keeps it. Danger is looked for apart, over all words.
GROUPS = (
    "ignore", "sign", "part", "lead", "joint", "mode", "work", "does", "not", "without",
    "cause", "found", "effect", "remains", "fixed", "past", "action", "want", "show",
    "check", "swap", "ask", "doubt", "fault", "good", "when", "then", "near", "between",
    "place", "break", "join", "and", "whole", "supplied", "kit", "small", "danger",
    "harmless", "skip",
)  # fmt: skip
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
# Only words of these groups are worth mending; small words cost more than they give.
_SPELT = frozenset({"part", "lead", "joint", "sign", "mode"})


@dataclass(frozen=True, slots=True)
class Entry:
    """One phrase and what it stands for.

    Parameters
    ----------
    text : str
        As it stands in the data, for messages and evidence.
    group : str
        One of ``GROUPS``.
    parts : tuple of (str, float)
        Components that it names and how firmly, 0 to 1; two or more where
        the everyday word does not tell ("brake").
    modes : tuple of (str or None, str, float)
        Failure modes: the component on which the reading depends (None for
        any), the mode, and how firmly.
    fault : bool
        Whether it speaks of a fault of whatever part it is said of.
    """

    text: str
    group: str
    parts: Votes = ()
    modes: tuple[tuple[str | None, str, float], ...] = ()
    fault: bool = False

    _by_component: dict[str | None, Votes] = field(
        init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        found: dict[str | None, list[tuple[str, float]]] = {}
        for component, mode, weight in self.modes:
            found.setdefault(component, []).append((mode, weight))
        sorted_out = {name: tuple(rows) for name, rows in found.items()}
        object.__setattr__(self, "_by_component", sorted_out)

    def modes_for(self, component: str) -> Votes:
        """Return the modes that this phrase means for a component."""
        known = self._by_component
        return known.get(component) or known.get(None, ())

    def concerns(self, component: str) -> bool:
        """Tell whether the phrase can be said of a component at all.

        A tyre can be bald and a display black; said of another part the
        same word is no fault.
        """
        known = self._by_component
        return self.fault or not known or component in known or None in known


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
    denials : frozenset of str
        Words that tell "there is none" from "it is not".
    known : dict of str to str
        Words resolved so far.
    memory : dict
        What was found in texts of the same words.
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
        for sign, group in _STOPS.items():
            node = self.tree[sign] = Node()
            node.entry = Entry(sign, group)
        self.denials = frozenset(
            word for phrase in language.absent for word in phrase.split()
        )
        self.memory: dict[tuple[str, ...], Found] = {}
        # what each word met so far resolves to
        self.known: dict[str, str] = {sign: sign for sign in _STOPS}

    def __getstate__(self) -> dict[str, object]:
        """Leave behind what was learnt from texts: another process has its own."""
        return {**self.__dict__, "memory": {}}

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
            node.entry = entry if node.entry is None else _merge(node.entry, entry)

    def _borrow(self, node: Node, words: list[str]) -> None:
        """Give long phrases the readings of the shorter ones inside them.

        "Stuck at" is said of a display in its own way; said of a throttle it
        must still mean what "stuck" means.
        """
        entry = node.entry
        if entry is not None and entry.group == "mode" and len(words) > 1:
            inner = self._inside(words)
            if inner is not None and all(c is not None for c, _, _ in entry.modes):
                own = {component for component, _, _ in entry.modes}
                more = tuple(m for m in inner.modes if m[0] not in own)
                fault = entry.fault or inner.group == "fault" or inner.fault
                node.entry = replace(entry, modes=entry.modes + more, fault=fault)
        for word, child in node.items():
            self._borrow(child, [*words, word])

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
            stems = parts_of(word, self._known, UNKNOWN)
            stem = " ".join(stems) if stems else None
        return UNKNOWN if stem is None else stem

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


def _merge(old: Entry, new: Entry) -> Entry:
    """Join two rows with the same phrase; the earlier group of GROUPS wins."""
    if old.group == new.group:
        strongest: dict[str, float] = {}
        for name, weight in (*old.parts, *new.parts):
            strongest[name] = max(weight, strongest.get(name, 0.0))
        modes = dict.fromkeys((*old.modes, *new.modes))
        return Entry(
            old.text,
            old.group,
            tuple(strongest.items()),
            tuple(modes),
            old.fault or new.fault,
        )
    first = min(old, new, key=lambda entry: GROUPS.index(entry.group))
    if {old.group, new.group} == {"mode", "fault"}:
        return replace(first, fault=True)
    return first


def entries_of(text: str, source: str, taxonomy: Taxonomy) -> dict[str, list[Entry]]:
    """Read one terms file; a row holds many phrases, separated by bars.

    Parameters
    ----------
    text : str
        A CSV with the columns ``group, component, failure_mode, weight, terms``
        and, if wanted, ``language``.
    source : str
        Its name, for messages.
    taxonomy : Taxonomy
        Rows for names that it lacks are left out.

    Returns
    -------
    dict of str to list of Entry
        By language; those without one under ``""``.

    Raises
    ------
    SettingsError
        If a row names an unknown group or weight.
    """
    entries: dict[str, list[Entry]] = {}
    required = ("group", "component", "failure_mode", "weight", "terms")
    for line, row in read_rows(text, source=source, required=required):
        if row["group"] not in GROUPS:
            raise SettingsError(
                f"The group {row['group']!r} is not known.",
                source=source,
                line=line,
                column="group",
                remedy=f"use one of: {', '.join(GROUPS)}",
            )
        names = [n.strip().lower() for n in row["component"].split(";") if n.strip()]
        mode = row["failure_mode"].lower() or None
        known = [n for n in names if n in taxonomy.components]
        if (names and not known) or (mode and mode not in taxonomy.modes):
            # a workspace's own taxonomy may have dropped what a term leads to
            continue
        try:
            weight = float(row["weight"])
        except ValueError as error:
            raise SettingsError(
                f"The weight {row['weight']!r} is not a number.",
                source=source,
                line=line,
                column="weight",
                remedy="write a number from 0 to 1",
            ) from error
        voters: list[str | None] = [*known] or [None]
        modes = tuple((c, mode, weight) for c in voters) if mode else ()
        parts: Votes = ()
        if row["group"] in ("part", "lead", "joint", "sign"):
            parts = tuple((name, weight) for name in known)
        entries.setdefault((row.get("language") or "").lower(), []).extend(
            Entry(phrase.strip().lower(), row["group"], parts, modes)
            for phrase in row["terms"].split("|")
            if phrase.strip()
        )
    return entries
