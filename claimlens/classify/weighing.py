"""The decision on one claim: the evidence of all its fields weighed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from claimlens.classify.cases import Case, Chances, Decision, Label
from claimlens.classify.danger import danger_pairs
from claimlens.classify.evidence import (
    TEXT_FIELDS,
    Piece,
    Source,
    TextSays,
    finding_pieces,
    part_pieces,
    text_says,
)
from claimlens.classify.modes import (
    WEIGHT,
    Verdict,
    best_mode,
    mode_scores,
    verdict_of,
)
from claimlens.classify.symptoms import symptom_keys
from claimlens.classify.taxonomy import NO_FAULT, NO_FAULT_MODE
from claimlens.classify.terms import Terms

__all__ = ["TextReader", "weigh"]

# How sure an inspection, a replaced part and a text can make alone; nothing is certain.
_CEILING: dict[Source, float] = {"finding": 0.98, "part": 0.95}
_CEILING_OF_TEXT, _CERTAIN = 0.98, 0.999
# strength of the best piece -> share of the ceiling
_SURE = ((0.0, 0.0), (0.3, 0.4), (0.5, 0.62), (0.6, 0.75), (0.72, 0.9), (1.0, 1.0))
# How sure "no fault found" makes, by who says it.
_SOUND: dict[Source, float] = {
    "finding": 0.88,
    "technician note": 0.83,
    "narrative": 0.79,
    "resolution": 0.67,
}
# Texts remembered at once; some hundred megabytes at most.
_TEXTS_KEPT = 50_000
_FAILED_ROLES = frozenset({"cause", "fault", "deed", "replaced", "inspected"})
_OTHER_STRENGTH = 0.6
# Sources that a person relies on, and how firmly they must speak to disagree.
_FIRM_RANK, _FIRM = 2.0, 0.7
_CONTRADICTED = 0.75


class TextReader:
    """Reads texts, each different one once."""

    def __init__(self, terms: Terms, *, with_spans: bool = False) -> None:
        self._terms = terms
        self._with_spans = with_spans
        self._known: dict[tuple[str, Source], TextSays] = {}

    def __call__(self, text: str | None, source: Source) -> TextSays:
        if not text:
            return TextSays()
        key = (text, source)
        says = self._known.get(key)
        if says is None:
            if len(self._known) > _TEXTS_KEPT:
                self._known.clear()
            says = text_says(text, source, self._terms, with_spans=self._with_spans)
            self._known[key] = says
        return says


@dataclass(frozen=True, slots=True)
class _Best:
    """The component that is ahead, and its strongest piece."""

    component: str
    piece: Piece
    confidence: float


def _sureness(strength: float) -> float:
    """Interpolate the share of the ceiling that a strength is worth."""
    for (x0, y0), (x1, y1) in pairwise(_SURE):
        if strength <= x1:
            return y0 + (y1 - y0) * (strength - x0) / (x1 - x0)
    return 1.0


def _scores(pieces: list[Piece]) -> dict[str, dict[Source, Piece]]:
    """Return the strongest piece by component and source.

    A component that a source rules out loses what weaker sources said of it;
    the note of the technician outranks the complaint.
    """
    best: dict[str, dict[Source, Piece]] = {}
    cleared: dict[str, float] = {}
    for piece in pieces:
        if piece.role == "cleared":
            rank = WEIGHT[piece.source]
            cleared[piece.component] = max(rank, cleared.get(piece.component, 0.0))
    for piece in pieces:
        if piece.strength <= 0.0:
            continue
        limit = cleared.get(piece.component, 0.0)
        rank = WEIGHT[piece.source]
        same_text = rank == limit and piece.strength < _OTHER_STRENGTH
        if rank < limit or same_text:
            continue
        own = best.setdefault(piece.component, {})
        old = own.get(piece.source)
        if old is None or piece.strength > old.strength:
            own[piece.source] = piece
    return best


def _firmness(piece: Piece, chances: Chances) -> float:
    """Return how firmly a source speaks for a component, 0 to 1.

    A text was weighed as a whole (`claimlens.classify.likelihood`); a part and an
    inspection speak for themselves.
    """
    if piece.source in _CEILING:
        return piece.strength
    return chances[piece.source].get(piece.component, 0.0)


def _doubt(piece: Piece, firmness: float) -> float:
    """Return how likely a source alone is mistaken."""
    ceiling = _CEILING.get(piece.source)
    if ceiling is None:
        return 1.0 - min(firmness, _CEILING_OF_TEXT)
    return 1.0 - ceiling * _sureness(firmness)


def _choose(
    best: dict[str, dict[Source, Piece]], chances: Chances, terms: Terms
) -> _Best | None:
    """Return the component with the greatest weight of evidence."""
    if not best:
        return None
    firm = {
        component: {source: _firmness(p, chances) for source, p in pieces.items()}
        for component, pieces in best.items()
    }
    order = {name: i for i, name in enumerate(terms.taxonomy.components)}
    first = min(
        best,
        key=lambda c: (
            -sum([WEIGHT[source] * much for source, much in firm[c].items()]),
            min((-WEIGHT[s], p.order) for s, p in best[c].items()),
            order[c],
        ),
    )
    own = firm[first]
    top = max(best[first].values(), key=lambda p: WEIGHT[p.source] * own[p.source])
    doubt = math.prod([_doubt(p, own[s]) for s, p in best[first].items()])
    return _Best(first, top, min(1.0 - doubt, _CERTAIN))


def _contradiction(best: dict[str, dict[Source, Piece]], chosen: _Best) -> Piece | None:
    """Return what a source of weight says against the component that is ahead.

    An inspection, a replaced part or a technician who names another component,
    and not this one as well, is a reason to ask a person. A source that ranks
    above the other two settles their dispute.
    """
    own = best[chosen.component]
    if "finding" in own:
        return None
    for component, by_source in best.items():
        if component in (chosen.component, NO_FAULT):
            continue
        for source, piece in by_source.items():
            firm = piece.strength >= _FIRM and piece.role in _FAILED_ROLES
            if firm and WEIGHT[source] >= _FIRM_RANK and source not in own:
                return piece
    return None


def _others(best: dict[str, dict[Source, Piece]], chosen: _Best) -> tuple[str, ...]:
    """Return the components that failed besides the main one.

    A complaint that the technician or the part explained is not a second
    failure: only sources as strong as the deciding one can name it.
    """
    least = WEIGHT[chosen.piece.source]
    found = []
    for component, by_source in best.items():
        if component in (chosen.component, NO_FAULT):
            continue
        for source, piece in by_source.items():
            if (
                WEIGHT[source] >= least
                and piece.strength >= _OTHER_STRENGTH
                and piece.role in _FAILED_ROLES
            ):
                found.append((-WEIGHT[source], piece.order, component))
                break
    return tuple(component for _, _, component in sorted(found))


def _gather(
    case: Case, terms: Terms, read_text: TextReader
) -> tuple[list[Piece], list[str], list[tuple[Source, TextSays]]]:
    pieces, verdicts = finding_pieces(case.findings, case.parts, terms)
    pieces += part_pieces(case.parts, terms)
    says = [
        (source, read_text(text, source))
        for text, (_, source) in zip(case.texts, TEXT_FIELDS, strict=True)
    ]
    for _, text in says:
        pieces += text.pieces
    return pieces, verdicts, says


def _reviewed(case: Case, terms: Terms) -> tuple[str, str | None, Label] | None:
    """Return the newest label whose component the taxonomy knows."""
    known = []
    for label in case.labels:
        component = terms.taxonomy.component_for(label.component)
        if component is not None:
            mode = terms.taxonomy.mode_for(label.failure_mode)
            known.append((label.reviewed_on, label.reviewer, component, mode, label))
    if not known:
        return None
    newest = max(known, key=lambda row: (row[0], row[1], row[2], row[3] or ""))
    return newest[2], newest[3], newest[4]


def _dangers(
    pieces: list[Piece], says: list[tuple[Source, TextSays]], decision: Decision
) -> tuple[str, ...]:
    """Return why a person must look at this claim at once, if they must."""
    found = [f"{source}: {word}" for source, text in says for word in text.dangers]
    pairs = danger_pairs()
    for piece in pieces:
        if piece.role in ("cause", "fault", "inspected", "effect"):
            found += [
                f"{piece.source}: {piece.component}, {mode}"
                for mode, _ in piece.modes
                if (piece.component, mode) in pairs
            ]
    pair = (decision.component, decision.failure_mode)
    if not found and pair in pairs:
        found.append(f"decision: {pair[0]}, {pair[1]}")
    return tuple(dict.fromkeys(found))


def weigh(
    case: Case, terms: Terms, read_text: TextReader, *, threshold: float = 0.65
) -> Decision:
    """Decide one claim.

    Parameters
    ----------
    case : Case
        Its texts, parts, findings and labels.
    terms : Terms
        Compiled terms.
    read_text : TextReader
        Reads texts with these terms.
    threshold : float, default 0.65
        Least confidence that decides; below it the claim is unclassified.

    Returns
    -------
    Decision
        With every piece of evidence, also what was outvoted.
    """
    pieces, finding_verdicts, says = _gather(case, terms, read_text)
    chances = {source: text.chances for source, text in says}
    decision = Decision(pieces=pieces, chances=chances)
    best = _scores(pieces)
    label = _reviewed(case, terms)
    chosen = _choose(best, decision.chances, terms)
    verdict = verdict_of(finding_verdicts, says)
    if label is not None:
        _decide_by_label(decision, label, says, terms)
    elif chosen is not None and chosen.confidence >= threshold:
        decision.mode_scores = mode_scores(chosen.component, pieces, says, terms)
        _decide_by_evidence(decision, chosen, best, verdict)
    elif verdict is not None and verdict[0] == NO_FAULT_MODE:
        _decide_no_fault(decision, verdict, terms, threshold)
    elif chosen is not None:
        decision.confidence = round(chosen.confidence, 3)
        decision.evidence = (
            f"too weak: {chosen.piece.source} '{chosen.piece.words}'"
            f" for {chosen.component}"
        )
    decision.dangers = _dangers(pieces, says, decision)
    decision.symptoms = symptom_keys(dict(says)["narrative"])
    return decision


def _decide_by_label(
    decision: Decision,
    label: tuple[str, str | None, Label],
    says: list[tuple[Source, TextSays]],
    terms: Terms,
) -> None:
    component, mode, row = label
    decision.component = component
    decision.source = "label"
    decision.confidence = 1.0
    decision.mode_scores = mode_scores(component, decision.pieces, says, terms)
    decision.failure_mode = mode or best_mode(decision.mode_scores)
    if mode is None and component == NO_FAULT:
        decision.failure_mode = NO_FAULT_MODE
    decision.evidence = f"label by {row.reviewer or 'a reviewer'} {row.reviewed_on}"
    decision.evidence = decision.evidence.strip()


def _decide_by_evidence(
    decision: Decision,
    chosen: _Best,
    best: dict[str, dict[Source, Piece]],
    verdict: Verdict | None,
) -> None:
    piece = chosen.piece
    decision.component = chosen.component
    decision.source = piece.source
    decision.confidence = round(chosen.confidence, 3)
    against = _contradiction(best, chosen)
    if against is not None:
        decision.confidence = round(chosen.confidence * _CONTRADICTED, 3)
        decision.against = f"{against.source} '{against.words}' for {against.component}"
    decision.others = _others(best, chosen)
    decision.failure_mode = best_mode(decision.mode_scores)
    decision.evidence = f"{piece.source}: {piece.words} ({piece.role})"
    if verdict is not None and _overrules(verdict, best[chosen.component]):
        decision.failure_mode = verdict[0]
        decision.evidence += f"; {verdict[1]}: {verdict[2]}"


def _overrules(verdict: Verdict, by_source: dict[Source, Piece]) -> bool:
    """Tell whether a verdict on the claim outranks the modes of its component.

    An inspection that found a fault, or a fault that the technician names, is
    not undone by a weaker source's "no fault found".
    """
    _, source, _ = verdict
    rank = WEIGHT[source]
    return not any(
        WEIGHT[s] > rank and p.role in ("inspected", "cause", "fault")
        for s, p in by_source.items()
    )


def _decide_no_fault(
    decision: Decision,
    verdict: Verdict,
    terms: Terms,
    threshold: float,
) -> None:
    """Decide that nothing was found, on the part that was looked at if known."""
    mode, source, words = verdict
    looked_at = dict.fromkeys(
        p.component
        for p in decision.pieces
        if p.role in ("cleared", "mention", "fault", "deed") and p.component != NO_FAULT
    )
    confidence = _SOUND[source]
    if confidence < threshold or NO_FAULT not in terms.taxonomy.components:
        return
    only = next(iter(looked_at)) if len(looked_at) == 1 else None
    decision.component = only or NO_FAULT
    decision.failure_mode = mode
    decision.source = source
    decision.confidence = round(confidence, 3)
    decision.evidence = f"{source}: {words}"
