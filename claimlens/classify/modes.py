"""The failure mode of a claim whose component is known."""

from __future__ import annotations

from collections.abc import Iterator

from claimlens.classify.evidence import Piece, Source, TextSays
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.classify.terms import Terms

__all__ = ["WEIGHT", "Verdict", "best_mode", "mode_scores", "verdict_of"]

# What each source weighs against the others.
WEIGHT: dict[Source, float] = {
    "finding": 8.0,
    "part": 4.0,
    "technician note": 2.0,
    "narrative": 1.0,
    "resolution": 0.5,
}
# A mode, the source that gave it, and the words.
Verdict = tuple[str, Source, str]

_ROLE = {"cause": 1.2, "effect": 0.4, "deed": 0.9, "mention": 0.5}
# What a kind of mode is worth: the cause beats what the owner noticed, and a
# stated accident or transport damage beats how the part broke.
_KIND = {"cause": 1.0, "symptom": 0.7, "verdict": 1.5}
_DEAD, _FITFUL = "no power", "intermittent"
_AGAIN = 0.2
_LOOSE, _NEIGHBOUR, _IMPLIED = 0.45, 0.3, 0.1


def _own_modes(component: str, pieces: list[Piece]) -> Iterator[tuple[str, float]]:
    """Yield the modes said of the component itself."""
    for piece in pieces:
        if piece.component == component:
            factor = _ROLE.get(piece.role, 1.0) * WEIGHT[piece.source]
            for mode, weight in piece.modes:
                yield mode, factor * weight


def _loose_modes(
    component: str, says: list[tuple[Source, TextSays]]
) -> Iterator[tuple[str, float]]:
    """Yield the modes said of no part in particular.

    What can be said of this one only ("bulged" of a battery) counts in full.
    """
    for source, text in says:
        for entry in text.loose:
            for mode, weight in entry.modes_for(component):
                own = any(name == component for name, _, _ in entry.modes)
                factor = 0.7 if own else _LOOSE
                yield mode, factor * weight * WEIGHT[source]


def _neighbour_modes(
    component: str, pieces: list[Piece], terms: Terms
) -> Iterator[tuple[str, float]]:
    """Yield what was said of other parts that this one can have disturbed."""
    known = terms.taxonomy.components
    for piece in pieces:
        if known[piece.component].group == known[component].group:
            for mode, weight in piece.modes:
                yield mode, _NEIGHBOUR * weight * WEIGHT[piece.source]


def mode_scores(
    component: str,
    pieces: list[Piece],
    says: list[tuple[Source, TextSays]],
    terms: Terms,
) -> dict[str, float]:
    """Score the failure modes of a component.

    Parameters
    ----------
    component : str
        The component that was decided.
    pieces : list of Piece
        All evidence of the claim.
    says : list of (Source, TextSays)
        What each text says, also of no part in particular.
    terms : Terms
        Compiled terms.

    Returns
    -------
    dict of str to float
        The greater the likelier; empty where nothing tells.
    """
    kinds = terms.taxonomy.modes
    scores: dict[str, float] = {}

    def add(found: Iterator[tuple[str, float]]) -> None:
        for mode, weight in found:
            worth = weight * _KIND[kinds[mode].kind]
            known = scores.get(mode, 0.0)
            # said twice it is hardly truer: three symptoms are no cause
            scores[mode] = max(worth, known) + _AGAIN * min(worth, known)

    add(_own_modes(component, pieces))
    add(_loose_modes(component, says))
    if scores:
        if scores.get(_FITFUL, 0.0) >= scores.get(_DEAD, 0.0) / 2 > 0.0:
            # dead now and then is not dead
            del scores[_DEAD]
        return scores
    dead_mode = terms.taxonomy.components[component].dead_mode
    accused = any(
        piece.component == component and piece.role in ("fault", "cause")
        for piece in pieces
    )
    if dead_mode is not None and accused:
        # "faulty", and no word of how
        return {dead_mode: _IMPLIED}
    add(_neighbour_modes(component, pieces, terms))
    return scores


def best_mode(scores: dict[str, float]) -> str:
    """Return the mode with the greatest score; ties go by the alphabet."""
    if not scores:
        return UNCLASSIFIED
    return min(scores, key=lambda mode: (-round(scores[mode], 6), mode))


def verdict_of(
    from_findings: list[str], says: list[tuple[Source, TextSays]]
) -> Verdict | None:
    """Return a mode that holds for the claim as a whole, or None.

    Parameters
    ----------
    from_findings : list of str
        Modes of inspections that named no component.
    says : list of (Source, TextSays)
        Texts in the order of their weight.
    """
    if from_findings:
        return from_findings[-1], "finding", from_findings[-1]
    for source, text in says:
        if text.verdicts:
            mode, words = text.verdicts[0]
            return mode, source, words
    return None
