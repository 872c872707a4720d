"""What the clauses of a text hold: parts, what is said of them, and flags."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from claimlens.classify.reading import Mark

__all__ = ["FLAGS", "Chunk", "Said", "narrows", "says_of"]

# Groups of the terms that a chunk only notes.
FLAGS = frozenset(
    {
        "past",
        "action",
        "want",
        "ask",
        "doubt",
        "show",
        "check",
        "swap",
        "fixed",
        "remains",
        "whole",
    }
)


class Said(NamedTuple):
    """Something said of a part; ``bad`` where it speaks of a fault."""

    mark: Mark
    bad: bool = True


@dataclass(slots=True)
class Chunk:
    """The stretch between two commas, conjunctions or full stops.

    Attributes
    ----------
    sentence : int
        Number of the sentence in the text.
    opened_by : str
        Group of the mark before it: hard, soft, and, break, then.
    heads : list of Mark
        Parts that it speaks of.
    asides : list of Mark
        Parts that only tell where ("noise from the motor at the wheel").
    cleared : list of Mark
        Parts that it rules out ("not the controller").
    says : list of Said
        What it says of its heads.
    flags : dict of str to Mark
        Other things it holds: past, action, want, doubt, show, check, swap, fixed,
        remains, whole, when, and ``unsaid`` for a negation of an unknown word.
    side : int
        1 where it names a cause, -1 where it names what that cause did.
    located : list of Mark
        Heads behind a preposition and a fault: "a smell in the box".
    settled : list of Said or None
        What it says of a fault, once nothing more is added.
    """

    sentence: int
    opened_by: str
    heads: list[Mark] = field(default_factory=list)
    asides: list[Mark] = field(default_factory=list)
    cleared: list[Mark] = field(default_factory=list)
    says: list[Said] = field(default_factory=list)
    flags: dict[str, Mark] = field(default_factory=dict)
    side: int = 0
    settled: list[Said] | None = None
    located: list[Mark] = field(default_factory=list)

    @property
    def bad(self) -> list[Said]:
        """What it says of a fault."""
        if self.settled is not None:
            return self.settled
        return [said for said in self.says if said.bad] if self.says else self.says

    @property
    def signed(self) -> bool:
        """Whether it holds a phrase that tells part and fault at once."""
        return any(said.mark.entry.group == "sign" for said in self.bad)

    @property
    def well(self) -> bool:
        """Whether it says that all is well, and nothing else."""
        return bool(self.says) and not self.bad

    @property
    def empty(self) -> bool:
        """Whether it holds nothing that counts."""
        return not (
            self.heads or self.asides or self.cleared or self.says or self.flags
        )


def says_of(said: list[Said], component: str) -> list[Said]:
    """Return what can be said of a component at all."""
    found = []
    for each in said:
        entry = each.mark.entry
        if entry.group != "mode" or entry.concerns(component):
            found.append(each)
    return found


def narrows(head: Mark, mark: Mark) -> bool:
    """Tell whether a part says which of several the head means."""
    names = {name for name, _ in head.entry.parts}
    own = {name for name, _ in mark.entry.parts}
    return len(names) > 1 and own < names
