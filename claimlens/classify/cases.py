"""One claim as it comes to be decided, and what was decided of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from claimlens.classify.evidence import Finding, Part, Piece, Source
from claimlens.classify.taxonomy import UNCLASSIFIED

__all__ = ["Case", "Chances", "Decision", "Label"]

Chances = Mapping[Source, Mapping[str, float]]
"""How likely each component is what a text is about, by its source."""


@dataclass(frozen=True, slots=True)
class Label:
    """One reviewed label."""

    component: str | None
    failure_mode: str | None
    reviewer: str
    reviewed_on: str


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that is known of one claim."""

    claim_no: str
    texts: tuple[str | None, ...]
    parts: tuple[Part, ...] = ()
    findings: tuple[Finding, ...] = ()
    labels: tuple[Label, ...] = ()


@dataclass(slots=True)
class Decision:
    """What a claim was decided to be, and from what."""

    component: str = UNCLASSIFIED
    failure_mode: str = UNCLASSIFIED
    others: tuple[str, ...] = ()
    dangers: tuple[str, ...] = ()
    source: Source = "none"
    confidence: float = 0.0
    evidence: str = "nothing decides"
    against: str = ""
    symptoms: str = ""
    pieces: list[Piece] = field(default_factory=list)
    chances: Chances = field(default_factory=dict)
    mode_scores: dict[str, float] = field(default_factory=dict)
