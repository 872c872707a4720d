"""The phrases of the terms: what a row of the data stands for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from claimlens.classify.taxonomy import Taxonomy, read_rows
from claimlens.errors import SettingsError

__all__ = ["GROUPS", "Entry", "Votes", "entries_of", "merged"]

Votes = tuple[tuple[str, float], ...]

# One phrase belongs to one group; where it is listed in several, the group
# that stands first here keeps it. Danger is looked for apart, over all words.
GROUPS = (
    "ignore", "sign", "part", "lead", "joint", "mode", "work", "does", "not", "without",
    "cause", "found", "effect", "remains", "fixed", "past", "action", "want", "show",
    "check", "swap", "ask", "doubt", "fault", "good", "when", "then", "near", "between",
    "place", "though", "break", "join", "and", "whole", "supplied", "kit", "small",
    "danger", "harmless", "skip",
)  # fmt: skip


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
    denies : bool
        Whether it denies what a sound part does, so that it means the dead
        mode of parts for which it has no mode of its own ("no funciona").
    """

    text: str
    group: str
    parts: Votes = ()
    modes: tuple[tuple[str | None, str, float], ...] = ()
    fault: bool = False
    denies: bool = False

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


def merged(old: Entry, new: Entry) -> Entry:
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
