"""The words of the trade, as data, and their compiled form."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

from claimlens.classify.languages import Language, load_language
from claimlens.classify.spelling import Speller
from claimlens.classify.taxonomy import Taxonomy, read_rows, shipped
from claimlens.errors import SettingsError

__all__ = ["GROUPS", "Entry", "Terms", "Votes", "load_terms"]

Votes = tuple[tuple[str, float], ...]

# One phrase belongs to one group; where it is listed in several, the group
# that stands first here keeps it. Danger is looked for apart, over all words.
GROUPS = (
    "ignore", "sign", "part", "lead", "joint", "mode", "work", "not", "without",
    "cause", "found", "effect", "remains", "fixed", "past", "action", "want", "show",
    "check", "ask", "doubt", "fault", "good", "when", "then", "near", "between",
    "place", "break", "join", "and", "whole", "supplied", "kit", "small", "danger",
    "harmless", "skip",
)  # fmt: skip
_FORM = re.compile(r"[a-z0-9]+(?:'[a-z]+)?|#")
# Stand for any number, in the terms and in a text, and for any other word.
NUMBER = "#"
UNKNOWN = "_"
# Full stops end what a negation reaches, commas only part it.
_STOPS = dict.fromkeys((".", ";", "!", "?", "\n", "-", "--", "–", "—"), "hard")
_STOPS |= dict.fromkeys((",", "(", ")", ":"), "soft")
_CACHE_LIMIT = 400_000
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

    def modes_for(self, component: str) -> tuple[tuple[str, float], ...]:
        """Return the modes that this phrase means for a component."""
        own = tuple((m, w) for c, m, w in self.modes if c == component)
        return own or tuple((m, w) for c, m, w in self.modes if c is None)

    def concerns(self, component: str) -> bool:
        """Tell whether the phrase can be said of a component at all.

        A tyre can be bald and a display black; said of another part the
        same word is no fault.
        """
        return (
            self.fault
            or not self.modes
            or any(c in (None, component) for c, _, _ in self.modes)
        )


class Node(dict[str, "Node"]):
    """A word in the tree of phrases; ``entry`` is set where a phrase ends."""

    __slots__ = ("entry",)

    def __init__(self) -> None:
        super().__init__()
        self.entry: Entry | None = None


class Terms:
    """Compiled terms: resolves words and finds phrases.

    Attributes
    ----------
    taxonomy : Taxonomy
        What the terms lead to.
    known : dict of str to str
        Words resolved so far.
    digest : str
        SHA-256 of everything that decides; results record it.
    """

    def __init__(
        self,
        taxonomy: Taxonomy,
        language: Language,
        entries: list[Entry],
        ordinary: frozenset[str],
        digest: str,
    ) -> None:
        self.taxonomy = taxonomy
        self.language = language
        self.digest = digest
        self.tree = Node()
        self.danger = Node()
        self._skip = {
            word
            for entry in entries
            if entry.group == "skip" and " " not in entry.text
            for word in (language.stem(entry.text),)
        }
        self._words: set[str] = set()
        for entry in entries:
            if entry.group in ("danger", "harmless"):
                self._plant(self.danger, entry)
            elif entry.group != "skip":
                self._plant(self.tree, entry)
        self._borrow(self.tree, [])
        raw = {
            word
            for entry in entries
            if entry.group in _SPELT
            for word in _FORM.findall(entry.text)
        }
        self._speller = Speller(
            raw | {word + "s" for word in raw if word[-1] != "s"}, ordinary
        )
        for sign, group in _STOPS.items():
            node = self.tree[sign] = Node()
            node.entry = Entry(sign, group)
        # what each word met so far resolves to
        self.known: dict[str, str] = {sign: sign for sign in _STOPS}

    def words_of(self, text: str) -> list[str]:
        """Return the stems of a phrase of the data, without skipped words."""
        stems = [self.language.stem(w) for w in _FORM.findall(text)]
        return [s for s in stems if s not in self._skip] or stems

    def _plant(self, tree: Node, entry: Entry) -> None:
        node = tree
        words = self.words_of(entry.text)
        for word in words:
            self._words.add(word)
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
            The stem that the phrases use; ``"_"`` for a word that no phrase
            knows, and an empty string for one that is passed over.
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
        word = token.removesuffix("'s")
        stem = self._known(word)
        if stem is None and word.isalpha():
            target = self._speller.correct(word)
            stem = self._known(target) if target else None
        return UNKNOWN if stem is None else stem

    def _known(self, word: str) -> str | None:
        """Return the stem of a word that the terms know; empty if skipped."""
        stem = self.language.stem(word)
        if stem in self._skip:
            return ""
        return stem if stem in self._words else None


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


def _entries_of(text: str, source: str, taxonomy: Taxonomy) -> list[Entry]:
    """Read one terms file; a row holds many phrases, separated by bars."""
    entries = []
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
        entries += [
            Entry(phrase.strip().lower(), row["group"], parts, modes)
            for phrase in row["terms"].split("|")
            if phrase.strip()
        ]
    return entries


def load_terms(taxonomy: Taxonomy, extra: Path | None = None) -> Terms:
    """Load and compile the terms.

    Parameters
    ----------
    taxonomy : Taxonomy
        What the terms lead to; rows for names that it lacks are left out.
    extra : Path, optional
        A CSV of a workspace with the columns of the shipped file
        (``group, component, failure_mode, weight, terms``), added to it.

    Returns
    -------
    Terms

    Raises
    ------
    SettingsError
        If a file cannot be read, or a row names an unknown group or weight.
    """
    language, ordinary, grammar = load_language("en")
    room = files("claimlens.classify")
    folder = room.joinpath("data")
    texts = [
        (name, folder.joinpath(name).read_text(encoding="utf-8"))
        for name in (f"terms_{language.code}.csv", f"places_{language.code}.csv")
    ]
    if extra is not None:
        try:
            texts.append((extra.name, extra.read_text(encoding="utf-8")))
        except (OSError, UnicodeDecodeError) as error:
            raise SettingsError(
                f"The terms file {extra.name} cannot be read.",
                source=str(extra),
                remedy="give a CSV file in UTF-8",
            ) from error
    entries = [e for name, text in texts for e in _entries_of(text, name, taxonomy)]
    whole = [grammar, shipped("danger_rules.csv"), *(text for _, text in texts)]
    whole += [repr(sorted(taxonomy.component_names.items()))]
    whole += [repr(sorted(taxonomy.mode_names.items()))]
    whole += [repr(list(taxonomy.components.values()))]
    whole += [repr(list(taxonomy.modes.values()))]
    # the rules decide as much as the words do
    whole += [
        module.read_text(encoding="utf-8")
        for module in sorted(room.iterdir(), key=lambda path: path.name)
        if module.name.endswith(".py")
    ]
    digest = hashlib.sha256("\x1f".join(whole).encode()).hexdigest()
    return Terms(taxonomy, language, entries, ordinary, digest)
