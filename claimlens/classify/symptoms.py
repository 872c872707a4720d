"""What the owner of a unit saw, whatever it turned out to be.

The decision on a claim names the cause; to learn what a complaint turns out to be, the
complaint has to be kept beside it. It is kept as keys that hold in every language: a
component (``display``), a failure mode (``no power``), and both together
(``display/no power``).
"""

from __future__ import annotations

from dataclasses import dataclass

from claimlens.classify.evidence import Piece, TextSays, text_may_say
from claimlens.classify.terms import Terms

__all__ = ["SEPARATOR", "Complaint", "complaints_in", "symptom_keys"]

SEPARATOR = "; "
# What is said of these was no fault, or not this time.
_NOT_SEEN = frozenset({"cleared", "history", "sound"})


@dataclass(frozen=True, slots=True)
class Complaint:
    """One thing that a text complains of.

    Parameters
    ----------
    words : str
        As it was written.
    components : tuple of str
        What it can be said of; several where the word leaves it open ("light"),
        none where no part is named.
    modes : tuple of str
        The failure modes it can mean; none where only a part is named.
    """

    words: str
    components: tuple[str, ...]
    modes: tuple[str, ...]


def symptom_keys(narrative: TextSays) -> str:
    """Return the keys of everything that an owner's text complains of.

    Parameters
    ----------
    narrative : TextSays
        What the text says.

    Returns
    -------
    str
        In alphabetical order, joined by ``SEPARATOR``.
    """
    keys: set[str] = set()
    for piece in narrative.pieces:
        if _is_seen(piece):
            keys.add(piece.component)
            for mode, _ in piece.modes:
                keys.update((mode, f"{piece.component}/{mode}"))
    for entry in narrative.loose:
        keys.update(mode for component, mode, _ in entry.modes if component is None)
    return SEPARATOR.join(sorted(keys))


def _is_seen(piece: Piece) -> bool:
    return piece.strength > 0.0 and piece.role not in _NOT_SEEN


def complaints_in(text: str, terms: Terms) -> list[Complaint]:
    """Return what a text complains of, one entry for each phrase.

    Parameters
    ----------
    text : str
        As an owner would write it, in any language that the terms know.
    terms : Terms
        Compiled terms.

    Returns
    -------
    list of Complaint
        In the order of the text; what is denied ("no noise") is left out.
    """
    read_as = [_complaints(said) for said in text_may_say(text, "narrative", terms)]
    # the language in which most is said of a part; the likeliest where they are equal
    return max(read_as, key=_told, default=[])


def _told(complaints: list[Complaint]) -> int:
    return sum(bool(said.components and said.modes) for said in complaints)


def _complaints(said: TextSays) -> list[Complaint]:
    """Return what one reading of a text complains of."""
    found: dict[tuple[int, str], tuple[dict[str, None], dict[str, None]]] = {}
    for piece in said.pieces:
        if _is_seen(piece):
            place = (piece.order, str(piece.words))
            components, modes = found.setdefault(place, ({}, {}))
            components[piece.component] = None
            modes.update(dict.fromkeys(mode for mode, _ in piece.modes))
    complaints = [
        Complaint(words, tuple(components), tuple(modes))
        for (_, words), (components, modes) in found.items()
    ]
    for entry in said.loose:
        loose = tuple(mode for component, mode, _ in entry.modes if component is None)
        if loose:
            complaints.append(Complaint(entry.text, (), loose))
    return complaints
