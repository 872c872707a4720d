"""Use the learned model on the claims that the terms leave open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.classify.danger import danger_pairs
from claimlens.classify.learned import COMPONENT, MODE, Learned
from claimlens.classify.learned_claims import newest_labels, see_claims
from claimlens.classify.learned_features import Cues, matrix
from claimlens.classify.learned_head import Answer, answers
from claimlens.classify.taxonomy import NO_FAULT, UNCLASSIFIED
from claimlens.classify.terms import Terms

__all__ = ["complete", "model_says", "unusable"]

_LONGEST = 160


def unusable(
    learned: Learned,
    terms: Terms,
    threshold: float,
    *,
    as_of: date,
    as_known: date | None,
) -> str | None:
    """Return why a model must not answer a question, None where it may.

    Parameters
    ----------
    learned : Learned
        The model.
    terms : Terms
        In force.
    threshold : float
        In force for the terms.
    as_of : date
        Cut-off of the question.
    as_known : date or None
        Known-by date of the question.

    Returns
    -------
    str or None
        The reason as a note; empty where the model is simply switched off.
    """
    origin = learned.origin
    if not learned.enabled:
        return ""
    if origin.terms != terms.digest or origin.threshold != threshold:
        return (
            "learned model not used: terms or threshold have changed since it was "
            "tried; learn again"
        )
    if origin.reported_to > as_of.isoformat():
        return (
            f"learned model not used: it has learned from claims up to "
            f"{origin.reported_to}, after the cut-off"
        )
    if as_known is not None and origin.known_to > as_known.isoformat():
        return (
            f"learned model not used: it has learned from labels known on "
            f"{origin.known_to}, after the known-by date"
        )
    return None


@dataclass(slots=True)
class _Row:
    """One claim on its way through the model."""

    component: str
    failure_mode: str
    safety: str
    source: str
    confidence: float
    evidence: str


def complete(
    fresh: pd.DataFrame,
    texts: pd.DataFrame,
    parts: pd.DataFrame,
    labels: pd.DataFrame,
    units: pd.DataFrame,
    *,
    terms: Terms,
    learned: Learned,
) -> pd.DataFrame:
    """Answer with the model what the terms left open.

    Parameters
    ----------
    fresh : DataFrame
        As ``classify`` returns it.
    texts : DataFrame
        claim_no and text columns of the same claims in the same order.
    parts, labels : DataFrame
        As for ``classify``; rows of other claims are passed over.
    units : DataFrame
        claim_no, model, model_year.
    terms : Terms
        In force.
    learned : Learned
        Enabled and usable.

    Returns
    -------
    DataFrame
        The same rows. A component that the model decides has the source
        ``model`` and its calibrated probability as confidence; a failure mode is
        added to it, or to a component that others decided. A reviewed label is
        never touched, also where it says that nobody can tell; ``safety`` is only
        ever switched on.
    """
    reviewed = newest_labels(labels, terms.taxonomy)
    rows = [
        _Row(*values)
        for values in zip(
            fresh["component"], fresh["failure_mode"], fresh["safety"],
            fresh["source"], fresh["confidence"], fresh["evidence"], strict=True,
        )
    ]  # fmt: skip
    claims = [str(claim_no) for claim_no in fresh["claim_no"]]
    free = [
        place
        for place, (claim_no, row) in enumerate(zip(claims, rows, strict=True))
        if claim_no not in reviewed and row.source != "label"
    ]

    def ask(what: str, places: list[int], take: Callable[[_Row, Answer], None]) -> None:
        if what not in learned.heads or not places:
            return
        named = {claims[p]: rows[p].component for p in places}
        own = see_claims(
            texts.iloc[places], parts, units, fresh.iloc[places], terms,
            components=named if what == MODE else None,
        )  # fmt: skip
        for place, answer in zip(places, _ask(learned, what, own), strict=True):
            if answer.decides and answer.name != UNCLASSIFIED:
                take(rows[place], answer)

    ask(COMPONENT, [p for p in free if rows[p].component == UNCLASSIFIED], _take)
    ask(
        MODE,
        [
            p
            for p in free
            if rows[p].failure_mode == UNCLASSIFIED
            and rows[p].component not in (UNCLASSIFIED, NO_FAULT)
        ],
        _take_mode,
    )
    done = fresh.copy()
    for name in ("component", "failure_mode", "safety", "source", "evidence"):
        done[name] = pd.array([getattr(row, name) for row in rows], dtype="str")
    done["confidence"] = [row.confidence for row in rows]
    return done


def _ask(learned: Learned, what: str, claims: list[Cues]) -> list[Answer]:
    rows = matrix(claims, learned.vocabulary)
    return answers(learned.heads[what], rows, claims, learned.vocabulary)


def _danger_of(evidence: str) -> str:
    """Return the danger that the terms found, as it stands in the evidence."""
    at = evidence.find("; danger: ")
    return evidence[at:] if at >= 0 else ""


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 2] + ".."


def _take(row: _Row, answer: Answer) -> None:
    row.component = answer.name
    row.source = "model"
    row.confidence = answer.probability
    said = ", ".join(answer.words) or "facts of the claim"
    row.evidence = _cut(f"model: {said}{_danger_of(row.evidence)}")
    _look_out(row)


def _take_mode(row: _Row, answer: Answer) -> None:
    row.failure_mode = answer.name
    said = ", ".join(answer.words) or "facts of the claim"
    danger = _danger_of(row.evidence)
    before = row.evidence.removesuffix(danger) if danger else row.evidence
    row.evidence = _cut(f"{before}; mode by model: {said}{danger}")
    _look_out(row)


def _look_out(row: _Row) -> None:
    """Switch safety on for a fault that can hurt someone; never off."""
    pair = (row.component, row.failure_mode)
    if row.safety != "yes" and pair in danger_pairs():
        row.safety = "yes"
        row.evidence = _cut(f"{row.evidence}; danger: decision: {pair[0]}, {pair[1]}")


def model_says(
    fresh: pd.DataFrame,
    texts: pd.DataFrame,
    parts: pd.DataFrame,
    labels: pd.DataFrame,
    units: pd.DataFrame,
    *,
    terms: Terms,
    learned: Learned,
) -> str:
    """Tell the model's part in the decision on one claim.

    Parameters
    ----------
    fresh, texts, parts, labels, units
        As for ``complete``, one claim.
    terms : Terms
        In force.
    learned : Learned
        Enabled and usable.

    Returns
    -------
    str
        Lines of plain text.
    """
    before = fresh.iloc[0]
    lines = [f"learned model {learned.digest[:12]}:"]
    if before["source"] == "label" or newest_labels(labels, terms.taxonomy):
        return f"{lines[0]} not asked, a reviewed label always wins"
    for what, column in ((COMPONENT, "component"), (MODE, "failure_mode")):
        if what not in learned.heads:
            lines.append(f"  {what}: not asked, it is off for this question")
            continue
        own = see_claims(
            texts, parts, units, fresh, terms,
            components={str(before["claim_no"]): before["component"]}
            if what == MODE and before["component"] != UNCLASSIFIED
            else None,
        )  # fmt: skip
        [answer] = _ask(learned, what, own)
        used = before[column] == UNCLASSIFIED and answer.decides
        fate = "decides" if used else "does not decide"
        if before[column] != UNCLASSIFIED:
            fate = "not asked, the terms decided"
        lines.append(
            f"  {what}: {answer.name} {answer.probability:.2f} (decides from "
            f"{learned.heads[what].threshold:.2f}; {fate})"
            + (f", by the words {', '.join(answer.words)}" if answer.words else "")
        )
    return "\n".join(lines)
