"""Classify claims: frames in, one row a claim out; explain a decision."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping

import pandas as pd

from claimlens.classify.cases import Case, Decision, Label
from claimlens.classify.evidence import TEXT_FIELDS, Finding, Part, Piece
from claimlens.classify.terms import Terms
from claimlens.classify.weighing import TextReader, weigh
from claimlens.errors import InputError

__all__ = ["COLUMNS", "DISAGREES", "classify", "explain"]

COLUMNS = (
    "claim_no",
    "component",
    "failure_mode",
    "other_components",
    "safety",
    "source",
    "confidence",
    "evidence",
    "symptoms",
)
# What the evidence says where a source of weight names another component.
DISAGREES = "; disagrees: "
_MANY_WORDS = 160


def _cell(value: object) -> str | None:
    """Return a cell as text; None where it is empty in any of pandas' ways."""
    if isinstance(value, str):
        return value if value.strip() else None
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, float) and math.isnan(value):
        return None
    if isinstance(value, dt.datetime):
        return value.date().isoformat()
    return str(value)


def _rows(
    frame: pd.DataFrame, columns: tuple[str, ...]
) -> Iterator[tuple[object, ...]]:
    """Yield the named columns row by row; a missing one reads as empty."""
    count = len(frame)
    listed = [
        frame[name].tolist() if name in frame.columns else [None] * count
        for name in columns
    ]
    yield from zip(*listed, strict=True)


def _parts_by_claim(parts: pd.DataFrame) -> dict[str, list[Part]]:
    found: dict[str, list[Part]] = {}
    columns = ("claim_no", "part_no", "description", "component", "unknown")
    for claim_no, part_no, description, component, unknown in _rows(parts, columns):
        found.setdefault(str(claim_no), []).append(
            Part(
                _cell(part_no) or "",
                _cell(description),
                _cell(component),
                _cell(unknown) not in (None, "False", "0"),
            )
        )
    return found


def _findings_by_claim(findings: pd.DataFrame) -> dict[str, list[Finding]]:
    found: dict[str, list[Finding]] = {}
    columns = (
        "claim_no", "inspected_on", "part_no", "finding", "component",
        "failure_mode", "note",
    )  # fmt: skip
    for row in _rows(findings, columns):
        claim_no, inspected_on, part_no, finding, component, mode, note = row
        found.setdefault(str(claim_no), []).append(
            Finding(
                _cell(inspected_on) or "",
                _cell(part_no),
                _cell(finding) or "other",
                _cell(component),
                _cell(mode),
                _cell(note),
            )
        )
    return found


def _labels_by_claim(labels: pd.DataFrame) -> dict[str, list[Label]]:
    found: dict[str, list[Label]] = {}
    columns = ("claim_no", "component", "failure_mode", "reviewer", "reviewed_on")
    for claim_no, component, mode, reviewer, reviewed_on in _rows(labels, columns):
        found.setdefault(str(claim_no), []).append(
            Label(
                _cell(component),
                _cell(mode),
                _cell(reviewer) or "",
                _cell(reviewed_on) or "",
            )
        )
    return found


def _check(claims: pd.DataFrame, threshold: float) -> None:
    if "claim_no" not in claims.columns:
        raise InputError(
            "The claims have no column claim_no.",
            remedy="give a frame with claim_no and the text columns",
        )
    if not 0.0 <= threshold <= 1.0:
        raise InputError(
            f"threshold must lie between 0 and 1; got {threshold}.",
            remedy="use 0.65 unless the review queue says otherwise",
        )


def _cases(
    claims: pd.DataFrame,
    parts: pd.DataFrame,
    findings: pd.DataFrame,
    labels: pd.DataFrame,
) -> Iterator[Case]:
    parts_of = _parts_by_claim(parts)
    findings_of = _findings_by_claim(findings)
    labels_of = _labels_by_claim(labels)
    columns = ("claim_no", *(column for column, _ in TEXT_FIELDS))
    for claim_no, *texts in _rows(claims, columns):
        key = str(claim_no)
        yield Case(
            key,
            tuple(_cell(text) for text in texts),
            tuple(parts_of.get(key, ())),
            tuple(findings_of.get(key, ())),
            tuple(labels_of.get(key, ())),
        )


def classify(
    claims: pd.DataFrame,
    parts: pd.DataFrame,
    findings: pd.DataFrame,
    labels: pd.DataFrame,
    *,
    terms: Terms,
    threshold: float = 0.65,
) -> pd.DataFrame:
    """Give each claim a component and a failure mode, with the evidence.

    Parameters
    ----------
    claims : DataFrame
        claim_no, narrative, technician_note, resolution; texts may be empty.
    parts : DataFrame
        Parts replaced, any number a claim: claim_no, part_no, quantity,
        description, component, unknown.
    findings : DataFrame
        Inspections of returned parts: claim_no, inspected_on, part_no,
        finding, component, failure_mode, note.
    labels : DataFrame
        Reviewed labels: claim_no, component, failure_mode, reviewer,
        reviewed_on. The newest of a claim always wins.
    terms : Terms
        Compiled terms.
    threshold : float, default 0.65
        Least confidence that decides, 0 to 1.

    Returns
    -------
    DataFrame
        One row a claim in the order of ``claims`` with the columns of
        ``COLUMNS``; component and failure mode are ``unclassified`` where
        nothing decides. The order of the other frames' rows has no effect.

    Raises
    ------
    InputError
        If claim_no is missing or the threshold lies outside 0 to 1.
    """
    _check(claims, threshold)
    reader = TextReader(terms)
    columns: dict[str, list[object]] = {name: [] for name in COLUMNS}
    for case in _cases(claims, parts, findings, labels):
        decision = weigh(case, terms, reader, threshold=threshold)
        values = (
            case.claim_no,
            decision.component,
            decision.failure_mode,
            "; ".join(decision.others),
            "yes" if decision.dangers else "no",
            decision.source,
            decision.confidence,
            _evidence(decision),
            decision.symptoms,
        )
        for name, value in zip(COLUMNS, values, strict=True):
            columns[name].append(value)
    frame = pd.DataFrame(columns, columns=list(COLUMNS))
    texts = {name: "str" for name in COLUMNS if name != "confidence"}
    return frame.astype({**texts, "confidence": "float64"})


def _evidence(decision: Decision) -> str:
    """Return the short account of a decision; never a whole narrative."""
    text, tail = decision.evidence, ""
    if decision.against:
        tail = f"{DISAGREES}{decision.against}"
    if decision.dangers:
        tail += f"; danger: {decision.dangers[0]}"
    room = _MANY_WORDS - len(tail)
    return (text if len(text) <= room else text[: room - 2] + "..") + tail


def explain(
    claims: pd.DataFrame,
    parts: pd.DataFrame,
    findings: pd.DataFrame,
    labels: pd.DataFrame,
    *,
    terms: Terms,
    threshold: float = 0.65,
) -> str:
    """Tell, for one claim, every piece of evidence and what it was worth.

    Parameters
    ----------
    claims : DataFrame
        As for ``classify``, with exactly one row.
    parts, findings, labels : DataFrame
        As for ``classify``; rows of other claims are passed over.
    terms : Terms
        Compiled terms.
    threshold : float, default 0.65
        Least confidence that decides.

    Returns
    -------
    str
        Lines of plain text: the decision, what decided it, what was outvoted.

    Raises
    ------
    InputError
        If ``claims`` doesn't hold exactly one row.
    """
    _check(claims, threshold)
    if len(claims) != 1:
        raise InputError(
            f"One claim can be explained at a time; got {len(claims)} rows.",
            remedy="name one claim number",
        )
    case = next(_cases(claims, parts, findings, labels))
    reader = TextReader(terms, with_spans=True)
    decision = weigh(case, terms, reader, threshold=threshold)
    lines = [
        f"claim {case.claim_no}",
        f"  component:    {decision.component}",
        f"  failure mode: {decision.failure_mode}",
        f"  others:       {'; '.join(decision.others) or 'none'}",
        f"  confidence:   {decision.confidence:.2f} (decides from {threshold:.2f})",
        f"  decided by:   {decision.evidence}",
        f"  disagrees:    {decision.against or 'no source of weight'}",
        f"  danger:       {'; '.join(decision.dangers) or 'none read'}",
        "evidence, strongest source first:",
    ]
    lines += [_line(piece, decision) for piece in decision.pieces]
    if not decision.pieces:
        lines.append("  none")
    lines += [
        f"weighed as a whole, the {source} is about: {_ranked(chances)}"
        for source, chances in decision.chances.items()
        if chances
    ]
    if decision.mode_scores:
        lines.append("failure modes weighed for the component:")
        ranked = sorted(decision.mode_scores.items(), key=lambda row: (-row[1], row[0]))
        lines += [f"  {mode}: {score:.2f}" for mode, score in ranked]
    lines.append(f"terms: {terms.digest[:12]}")
    return "\n".join(lines)


def _ranked(chances: Mapping[str, float]) -> str:
    """Return components with how likely each is what a text is about."""
    ranked = sorted(chances.items(), key=lambda row: (-row[1], row[0]))
    return ", ".join(f"{component} {chance:.2f}" for component, chance in ranked)


def _line(piece: Piece, decision: Decision) -> str:
    """Return one line of evidence with its place and its fate."""
    place: str = piece.source
    if piece.span is not None:
        place += f" {piece.span[0]}-{piece.span[1]}"
    if piece.component == decision.component and piece.strength > 0:
        fate = "for the decision"
    elif piece.role == "cleared":
        fate = "ruled out"
    elif piece.role == "history":
        fate = "history, not counted"
    elif piece.component in decision.others:
        fate = "also failed"
    else:
        fate = "outvoted"
    modes = ", ".join(mode for mode, _ in piece.modes)
    said = f", {modes}" if modes else ""
    return (
        f"  [{place}] '{piece.words}' -> {piece.component}{said}"
        f" ({piece.role}, {piece.strength:.2f}; {fate})"
    )
