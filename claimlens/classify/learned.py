"""The learned model: trained on reviewed claims, used for what terms leave open."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.classify.decide import classify
from claimlens.classify.learned_claims import newest_labels, see_claims
from claimlens.classify.learned_features import (
    Cues,
    Vocabulary,
    learn_vocabulary,
    matrix,
)
from claimlens.classify.learned_fit import fit_weights
from claimlens.classify.learned_head import Head
from claimlens.classify.learned_trial import FOLDS, Task, Trial, try_out
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.classify.terms import Terms

__all__ = ["COMPONENT", "MODE", "Learned", "Lesson", "Origin", "learn"]

COMPONENT, MODE = "component", "failure mode"
# What a part or an inspection decides is right more often than not, but was not
# decided by its text.
_WEAK = 0.3
_MOST_WEAK_A_CLASS = 200
_NOTHING = pd.DataFrame(columns=["claim_no"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """What a model was made from.

    Parameters
    ----------
    training : str
        SHA-256 of the training claims: texts, facts, answers, weights.
    terms : str
        Digest of the terms that it completes.
    threshold : float
        Least confidence at which those decide.
    reported_to : str
        Newest date of report or inspection among its claims, ISO; empty if none.
    reviewed_to : str
        Newest date of review, ISO; empty if none.
    known_to : str
        Newest known-on date of a label, ISO; empty if none.
    n_reviewed, n_part, n_finding : int
        Training claims by who decided them.
    """

    training: str
    terms: str
    threshold: float
    reported_to: str
    reviewed_to: str
    known_to: str
    n_reviewed: int
    n_part: int
    n_finding: int


@dataclass(frozen=True, kw_only=True)
class Learned:
    """A trained model with the trial that tells what it is good for.

    Parameters
    ----------
    origin : Origin
        What it was made from.
    vocabulary : Vocabulary
        Names of the columns; empty where no question is enabled.
    heads : mapping of str to Head
        The enabled questions only: component, failure mode.
    trials : mapping of str to Trial
        Of both questions.
    digest : str
        SHA-256 of everything above; empty for a model that was never written.
    """

    origin: Origin
    vocabulary: Vocabulary
    heads: Mapping[str, Head]
    trials: Mapping[str, Trial]
    digest: str = ""

    @property
    def enabled(self) -> bool:
        """Tell whether any question is answered by the model."""
        return bool(self.heads)


@dataclass(frozen=True, slots=True)
class _Set:
    """The training claims in their final order."""

    texts: pd.DataFrame
    told: pd.DataFrame
    component: list[str]
    mode: list[str]
    source: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """The frames that a model is trained from; the order of rows has no effect.

    Parameters
    ----------
    texts : DataFrame
        claim_no, reported_on and the text columns of all claims that may be used.
    parts, findings : DataFrame
        As for ``classify``.
    labels : DataFrame
        As for ``classify``, with ``known_on``.
    decided : DataFrame
        Claims decided by a part or an inspection: claim_no, component,
        failure_mode (of the inspection), source (part, finding), inspected_on.
    units : DataFrame
        claim_no, model, model_year.
    """

    texts: pd.DataFrame
    parts: pd.DataFrame
    findings: pd.DataFrame
    labels: pd.DataFrame
    decided: pd.DataFrame
    units: pd.DataFrame


def learn(lesson: Lesson, *, terms: Terms, threshold: float) -> Learned:
    """Train the model, and try it on reviewed claims that it has not seen.

    Parameters
    ----------
    lesson : Lesson
        What is known by the cut-off.
    terms : Terms
        What the model is to complete.
    threshold : float
        Least confidence at which they decide.

    Returns
    -------
    Learned
        With a head for each question where the model beats the terms alone.
    """
    chosen = _training_set(lesson, terms=terms, threshold=threshold)
    numbers = chosen.texts["claim_no"].tolist()
    weak = {
        claim_no
        for claim_no, source in zip(numbers, chosen.source, strict=True)
        if source != "label"
    }
    cues = see_claims(
        chosen.texts,
        lesson.parts,
        lesson.units,
        chosen.told,
        terms,
        hidden=weak,
        components=dict(zip(numbers, chosen.component, strict=True)),
    )
    origin = _origin(chosen, cues, lesson, terms=terms, threshold=threshold)
    vocabulary = learn_vocabulary(cues)
    trials, heads = {}, {}
    for what, answers in ((COMPONENT, chosen.component), (MODE, chosen.mode)):
        trials[what], head = _question(what, answers, chosen, cues, vocabulary)
        if head is not None:
            heads[what] = head
    if not heads:
        vocabulary = Vocabulary((), (), (), np.empty(0))
    return Learned(origin=origin, vocabulary=vocabulary, heads=heads, trials=trials)


def _training_set(lesson: Lesson, *, terms: Terms, threshold: float) -> _Set:
    """Return reviewed claims, and some of those that part or inspection decide."""
    newest = newest_labels(lesson.labels, terms.taxonomy)
    known = lesson.texts.assign(claim_no=lesson.texts["claim_no"].astype(str))
    known = known.sort_values("claim_no", ignore_index=True)
    reviewed = known[known["claim_no"].isin(newest)]
    weak = _some(known[~known["claim_no"].isin(newest)], lesson.decided)
    # a reviewed claim is read with all that is known but the review; of the others
    # the texts alone are to be learned
    told = pd.concat(
        [
            classify(
                reviewed,
                lesson.parts,
                lesson.findings,
                _NOTHING,
                terms=terms,
                threshold=threshold,
            ),
            classify(
                weak, _NOTHING, _NOTHING, _NOTHING, terms=terms, threshold=threshold
            ),
        ],
        ignore_index=True,
    )
    own = [newest[claim_no] for claim_no in reviewed["claim_no"]]
    return _Set(
        pd.concat([reviewed, weak[known.columns]], ignore_index=True),
        told,
        [label.component for label in own] + weak["component"].tolist(),
        [label.failure_mode or "" for label in own] + weak["mode"].tolist(),
        ["label"] * len(own) + weak["source"].tolist(),
    )


def _some(known: pd.DataFrame, decided: pd.DataFrame) -> pd.DataFrame:
    """Return up to 200 claims a component, equal texts once, drawn by digest."""
    rows = known.merge(
        decided.assign(
            claim_no=decided["claim_no"].astype(str),
            mode=decided["failure_mode"].where(decided["source"] == "finding", ""),
        )[["claim_no", "component", "mode", "source"]],
        on="claim_no",
    ).fillna({"mode": ""})
    rows["mode"] = rows["mode"].replace(UNCLASSIFIED, "")
    text = rows[["narrative", "technician_note", "resolution"]].fillna("")
    joined = text.agg("\n".join, axis=1) if len(rows) else pd.Series([], dtype="str")
    rows["drawn"] = [_digest(one) for one in joined]
    rows = rows[joined.str.strip() != ""]
    rows = rows.sort_values(["drawn", "claim_no"])
    rows = rows.drop_duplicates(["drawn", "component"])
    # inspections first: they tell the failure mode too
    rows = rows.sort_values("source", kind="stable")
    rows = rows.groupby("component", sort=True).head(_MOST_WEAK_A_CLASS)
    return rows.sort_values("claim_no", ignore_index=True).drop(columns="drawn")


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _newest(frame: pd.DataFrame, column: str) -> str:
    if column not in frame.columns:
        return ""
    days = frame[column].dropna()
    return max((str(day)[:10] for day in days), default="")


def _origin(
    chosen: _Set, cues: list[Cues], lesson: Lesson, *, terms: Terms, threshold: float
) -> Origin:
    used = set(chosen.texts["claim_no"])
    labels, decided = lesson.labels, lesson.decided
    rows = zip(
        chosen.texts["claim_no"], cues, chosen.component, chosen.mode, chosen.source,
        strict=True,
    )  # fmt: skip
    lines = [
        json.dumps([claim_no, claim.texts, claim.facts, component, mode, source])
        for claim_no, claim, component, mode, source in rows
    ]
    own_labels = labels[labels["claim_no"].astype(str).isin(used)]
    own_decided = decided[decided["claim_no"].astype(str).isin(used)]
    return Origin(
        training=_digest("\n".join(sorted(lines))),
        terms=terms.digest,
        threshold=threshold,
        reported_to=max(
            _newest(chosen.texts, "reported_on"), _newest(own_decided, "inspected_on")
        ),
        reviewed_to=_newest(own_labels, "reviewed_on"),
        known_to=_newest(own_labels, "known_on"),
        n_reviewed=chosen.source.count("label"),
        n_part=chosen.source.count("part"),
        n_finding=chosen.source.count("finding"),
    )


def _question(
    what: str,
    answers: list[str],
    chosen: _Set,
    cues: list[Cues],
    vocabulary: Vocabulary,
) -> tuple[Trial, Head | None]:
    """Try one question, and fit it on all claims if that is worth it."""
    task = _task(what, answers, chosen, cues, vocabulary)
    classes = tuple(sorted(set(task.answers.tolist())))
    trial = try_out(task, classes, what)
    if not trial.enabled or trial.calibration is None:
        return trial, None
    weights, bias = fit_weights(task.rows, task.answers, task.worth, classes)
    return trial, Head(
        classes=classes,
        weights=weights,
        bias=bias,
        calibration=trial.calibration,
        threshold=round(trial.threshold - 5e-5, 4),
        least_lead=round(trial.least_lead - 5e-5, 4),
    )


def _task(
    what: str,
    answers: list[str],
    chosen: _Set,
    cues: list[Cues],
    vocabulary: Vocabulary,
) -> Task:
    """Return the training claims that have an answer to one question."""
    has = [place for place, answer in enumerate(answers) if answer]
    if what == MODE:
        has = [place for place in has if chosen.component[place] != UNCLASSIFIED]
    answer = np.array([answers[place] for place in has], dtype=str)
    reviewed = np.array([chosen.source[place] == "label" for place in has], dtype=bool)
    column = "component" if what == COMPONENT else "failure_mode"
    told = chosen.told[column].to_numpy(dtype=str)[has] if has else np.empty(0, str)
    own = [cues[place] for place in has]
    if what == COMPONENT:
        own = [_without_component(claim) for claim in own]
    weak_read = ~reviewed & (told != UNCLASSIFIED)
    return Task(
        rows=matrix(own, vocabulary),
        answers=answer,
        worth=np.where(reviewed, 1.0, _WEAK),
        reviewed=reviewed,
        told=told,
        fold=_folds(own),
        texts_wrong=int((weak_read & (told != answer)).sum()),
        texts_decided=int(weak_read.sum()),
    )


def _without_component(claim: Cues) -> Cues:
    """Hide the fact that is the answer itself."""
    facts = tuple(f for f in claim.facts if not f[0].startswith("component "))
    return Cues(claim.texts, facts)


def _folds(claims: list[Cues]) -> NDArray[np.int64]:
    """Return 0 to 4 by the digest of each text: equal texts are never parted."""
    found = [int(_digest(claim.key)[:12], 16) % FOLDS for claim in claims]
    return np.array(found, dtype=np.int64)
