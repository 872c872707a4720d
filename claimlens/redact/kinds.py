"""What is known before a text is read, and what is told of its reading."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["KINDS", "Known", "Redacted", "Removal", "Span", "counts"]

# The kinds of removed pieces, each with the word that stands in its place.
KINDS = {
    "person": "[name]",
    "mail": "[mail]",
    "address": "[address]",
    "telephone": "[telephone]",
    "number": "[number]",
    "payment": "[payment]",
    "birth": "[birth]",
    "plate": "[plate]",
    "business": "[business]",
    "amount": "[amount]",
    "web": "[web]",
    "serial": "[serial]",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the workspace knows.

    Attributes
    ----------
    names : tuple of str
        Dealers and other suppliers: removed wherever they stand, whatever their
        case, spacing and accents.
    keep : frozenset of str
        Part numbers, claim numbers, the recipient's own name, component and model
        names: never removed.
    serials : frozenset of str
        Serial numbers of units.
    serial_keeps : int or None
        Characters of a serial number that stay at its end; None leaves it whole.
    """

    names: tuple[str, ...] = ()
    keep: frozenset[str] = frozenset()
    serials: frozenset[str] = frozenset()
    serial_keeps: int | None = None


@dataclass(frozen=True, slots=True)
class Removal:
    """A piece that was taken out: its kind (a key of ``KINDS``) and its text."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Redacted:
    """A text without personal data, and what was taken out of it, in its order."""

    text: str
    removed: tuple[Removal, ...]


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A piece of a text: where it begins, where it ends, of what kind it is."""

    start: int
    end: int
    kind: str


def counts(removed: Iterable[Removal]) -> dict[str, int]:
    """Count removed pieces by kind.

    Parameters
    ----------
    removed : iterable of Removal
        Of one or many texts.

    Returns
    -------
    dict of str to int
        Kinds that occur, in the order of ``KINDS``.
    """
    found = Counter(removal.kind for removal in removed)
    return {kind: found[kind] for kind in KINDS if found[kind]}
