"""How likely each component that a text names is the one it is about.

The votes of a text say what is told of each part: that it failed, was replaced, caused
something else, is mentioned in passing. How these count against each other (a rival
that failed too, the last word of a long story, a part that was replaced before) is
measured, not guessed: a logistic regression on labelled texts of all languages, whose
weights are shipped as data. What it looks at has nothing to do with a language, so that
each language profits from the texts of the others.
"""

from __future__ import annotations

import csv
import math
from functools import lru_cache
from typing import NamedTuple

from claimlens.classify.taxonomy import Taxonomy, shipped
from claimlens.classify.votes import TextVotes, Vote

__all__ = ["FEATURES", "WEIGHTS_FILE", "chances", "features"]

WEIGHTS_FILE = "evidence_weights.csv"
# Roles in which a part failed, as the text has it.
_FAILED = frozenset({"cause", "fault", "deed"})

FEATURES = (
    "cause", "fault", "deed", "effect", "history", "cleared",
    "strength", "strengths", "lead", "ahead", "votes", "bare",
    "parts", "rivals", "rival", "rival cause", "rival fault", "rival deed",
    "first", "last", "last of all",
    "cause last", "fault last", "deed last", "fault first",
    "mode", "mode is cause", "mode is symptom", "no mode", "rival's mode is cause",
    "words", "verdict", "loose",
)  # fmt: skip


class _Weights(NamedTuple):
    """Constant, weight of each of ``FEATURES``, and what each component adds."""

    constant: float
    features: tuple[float, ...]
    components: dict[str, float]


@lru_cache(maxsize=1)
def _weights() -> _Weights:
    """Read the shipped weights; a feature that the file lacks weighs nothing."""
    rows = {
        (row["kind"], row["name"]): float(row["weight"])
        for row in csv.DictReader(shipped(WEIGHTS_FILE).splitlines())
    }
    return _Weights(
        rows["constant", ""],
        tuple(rows.get(("feature", name), 0.0) for name in FEATURES),
        {name: weight for (kind, name), weight in rows.items() if kind == "component"},
    )


class _Told(NamedTuple):
    """What a text tells of one component."""

    component: str
    every: list[Vote]
    held: list[Vote]
    failed: list[Vote]
    strongest: float


def _told(votes: list[Vote]) -> list[_Told]:
    """Return what is told of each component that something speaks for."""
    by_component: dict[str, list[Vote]] = {}
    for vote in votes:
        if vote.role != "aside":
            by_component.setdefault(vote.component, []).append(vote)
    found = []
    for component, every in by_component.items():
        held = [vote for vote in every if vote.weight > 0.0]
        if held:
            failed = [vote for vote in held if vote.role in _FAILED]
            strongest = max([vote.weight for vote in held])
            found.append(_Told(component, every, held, failed, strongest))
    return found


def features(
    said: TextVotes, words: int, taxonomy: Taxonomy
) -> dict[str, tuple[float, ...]]:
    """Return what the weighing looks at, by component.

    Parameters
    ----------
    said : TextVotes
        All votes of the text.
    words : int
        How many words of the text count.
    taxonomy : Taxonomy
        For the kinds of failure modes.

    Returns
    -------
    dict of str to tuple of float
        The values of ``FEATURES`` for each component that something speaks for.
    """
    told = _told(said.votes)
    end = max([vote.order for vote in said.votes], default=0)
    of_text = (
        math.log(max(words, 1)),
        float(bool(said.verdicts)),
        float(min(len(said.loose), 3)),
    )
    return {
        own.component: (
            *_of_component(own, [o for o in told if o is not own], end, taxonomy),
            *of_text,
        )
        for own in told
    }


def _of_component(
    own: _Told, others: list[_Told], end: int, taxonomy: Taxonomy
) -> tuple[float, ...]:
    """Return the values that differ by component."""
    roles = {vote.role for vote in own.every}
    cause, fault, deed = (float(name in roles) for name in ("cause", "fault", "deed"))
    against = [vote for other in others for vote in other.failed]
    against_roles = {vote.role for vote in against}
    places = [vote.order for vote in own.failed or own.held]
    first = float(min(places) <= min([vote.order for vote in against], default=end))
    last = float(max(places) >= max([vote.order for vote in against], default=-1))
    lead = own.strongest - max([other.strongest for other in others], default=0.0)
    kinds = {taxonomy.modes[mode].kind for vote in own.held for mode, _ in vote.modes}
    bare = len(own.held) == 1 and own.held[0].role == "mention"
    return (
        cause,
        fault,
        deed,
        float("effect" in roles),
        float("history" in roles),
        float("cleared" in roles),
        own.strongest,
        min(sum([vote.weight for vote in own.held]), 3.0),
        lead,
        float(lead > 0.0),
        float(min(len(own.held), 4)),
        float(bare),
        float(min(len(others) + 1, 6)),
        float(min(len([other for other in others if other.failed]), 4)),
        max([vote.weight for vote in against], default=0.0),
        float("cause" in against_roles),
        float("fault" in against_roles),
        float("deed" in against_roles),
        first,
        last,
        float(max(places) == end),
        cause * last,
        fault * last,
        deed * last,
        fault * first,
        max([weight for vote in own.held for _, weight in vote.modes], default=0.0),
        float("cause" in kinds),
        float("symptom" in kinds),
        float(not kinds),
        float(
            any(
                taxonomy.modes[mode].kind == "cause"
                for vote in against
                for mode, _ in vote.modes
            )
        ),
    )


def chances(said: TextVotes, words: int, taxonomy: Taxonomy) -> dict[str, float]:
    """Return how likely each component is the one that the text is about.

    Parameters
    ----------
    said : TextVotes
        All votes of the text.
    words : int
        How many words of the text count.
    taxonomy : Taxonomy
        For the kinds of failure modes.

    Returns
    -------
    dict of str to float
        A chance for each component that something speaks for. They are judged one
        by one and need not add up to 1.
    """
    if said.chances is not None:
        return said.chances
    weights = _weights()
    found = said.chances = {}
    for component, values in features(said, words, taxonomy).items():
        score = weights.constant + weights.components.get(component, 0.0)
        for weight, value in zip(weights.features, values, strict=True):
            score += weight * value
        found[component] = 1.0 / (1.0 + math.exp(-score))
    return found
