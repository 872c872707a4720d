"""Votes: one piece of evidence each, and what words mean for a component."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from claimlens.classify.chunks import Said, says_of
from claimlens.classify.reading import Mark
from claimlens.classify.taxonomy import Taxonomy

__all__ = ["EFFECT", "PLAIN", "SOUND", "TextVotes", "Vote", "modes_said", "narrowed"]

# How firmly a plain complaint speaks, a part that tested well, and what another
# part did to this one.
PLAIN, SOUND, EFFECT = 0.72, 0.6, 0.25


class Vote(NamedTuple):
    """One piece of evidence in a text.

    Parameters
    ----------
    component : str
        What it speaks for (or, where ``weight`` is 0, rules out).
    weight : float
        How firmly, 0 to 1.
    role : str
        cause, fault, deed (replaced, repaired), effect (of a named cause),
        mention, aside, history, cleared.
    mark : Mark
        Where the component was read.
    said : tuple of Mark
        Where the fault was read.
    modes : tuple of (str, float)
        Failure modes that go with it.
    order : int
        Place in the text, for ties.
    shared : bool
        Whether the word can mean several components, and the weight is split.
    located : bool
        Whether the part stands behind a preposition and a fault: "smoke from the box".
    """

    component: str
    weight: float
    role: str
    mark: Mark
    said: tuple[Mark, ...] = ()
    modes: tuple[tuple[str, float], ...] = ()
    order: int = 0
    shared: bool = False
    located: bool = False


@dataclass(slots=True)
class TextVotes:
    """All votes of one text.

    Attributes
    ----------
    votes : list of Vote
        In the order of the text.
    verdicts : list of (str, Mark)
        Modes that hold for the claim as a whole: no fault found, misuse,
        transport damage.
    loose : list of Said
        What was said of a fault without a part.
    chances : dict of str to float or None
        How likely each component is what the text is about, once it was asked.
    """

    votes: list[Vote] = field(default_factory=list)
    verdicts: list[tuple[str, Mark]] = field(default_factory=list)
    loose: list[Said] = field(default_factory=list)
    chances: dict[str, float] | None = None


def narrowed(mark: Mark, bad: list[Said]) -> tuple[tuple[str, float], ...]:
    """Return the components of a part, narrowed by what is said of it.

    "Brake" alone is hydraulics or pads; "squeal" is only ever said of pads.
    """
    parts = mark.entry.parts
    if len(parts) < 2:
        return parts
    for said in bad:
        hinted = {c for c, _, _ in said.mark.entry.modes if c is not None}
        hinted |= {c for c, _ in said.mark.entry.parts}
        fewer = [(c, w) for c, w in parts if c in hinted]
        if fewer and len(fewer) < len(parts):
            return tuple((c, 1.0 / len(fewer)) for c, _ in fewer)
    return tuple((c, w / len(parts)) for c, w in parts)


def modes_said(bad: list[Said], component: str, taxonomy: Taxonomy) -> dict[str, float]:
    """Return the failure modes said of a component, strongest reading first."""
    found: dict[str, float] = {}
    known = taxonomy.components[component]
    for said in says_of(bad, component):
        said_modes = said.mark.entry.modes_for(component)
        entry = said.mark.entry
        denied = entry.group in ("good", "does") or entry.denies
        if denied and not said_modes and known.dead_mode is not None:
            # "is not ok"
            said_modes = ((known.dead_mode, 0.8),)
        for mode, weight in said_modes:
            meant = mode
            if mode == "no power" and known.group != "electrical":
                if known.dead_mode is None:
                    continue
                meant = known.dead_mode
            found[meant] = max(weight, found.get(meant, 0.0))
    return found
