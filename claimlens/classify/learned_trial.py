"""Try the model on reviewed claims that it has not seen: is it worth using?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from claimlens.classify.learned_fit import fit_calibration, fit_weights
from claimlens.classify.learned_head import Calibration, leads
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.stats.calibration import brier, reliability
from claimlens.stats.intervals import wilson

__all__ = [
    "FEWEST_LABELS",
    "Outcome",
    "Task",
    "Trial",
    "allowed_share",
    "choose_threshold",
    "try_out",
]

FOLDS = 5
FEWEST_LABELS = 50
# The model is held to the wrong share of the terms, but to no more and no less than
# these: of few claims a share of 0 or of 20 % tells little.
_LEAST_ALLOWED, _MOST_ALLOWED = 0.01, 0.05
_FEWEST_DECIDED = 30
# Claims left open that the calibration needs of its own.
_FEWEST_OPEN = 30
_FEWEST_GAINED = 3
_CAUTION = 0.8
_NEVER = 1.01

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Names = NDArray[np.str_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Training claims for one question.

    Parameters
    ----------
    rows : csr_matrix, shape (n, F)
        Claims.
    answers : ndarray of str, shape (n,)
        What they are.
    worth : ndarray, shape (n,)
        Weight of each in the fit.
    reviewed : ndarray of bool, shape (n,)
        Whether a person said so.
    told : ndarray of str, shape (n,)
        What the terms say without that person, ``unclassified`` where nothing.
    fold : ndarray of int, shape (n,)
        0 to 4; equal for claims with equal texts.
    texts_wrong, texts_decided : int
        Of the claims that a part or an inspection decides: how often their texts
        alone were read, and how often wrongly.
    """

    rows: scipy.sparse.csr_matrix
    answers: Names
    worth: Floats
    reviewed: Bools
    told: Names
    fold: Ints
    texts_wrong: int = 0
    texts_decided: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How one way of deciding fared on the reviewed claims.

    Parameters
    ----------
    way : str
        terms alone, model alone, terms and model.
    n, right, wrong, unclassified : int
        Claims; the last three sum to the first.
    wrong_share, lower, upper : float
        Wrong of the decided ones with Wilson's 95 % limits; NaN, 0 and 1 where
        none was decided.
    """

    way: str
    n: int
    right: int
    wrong: int
    unclassified: int
    wrong_share: float
    lower: float
    upper: float

    @property
    def decided(self) -> int:
        """Return how many claims were decided."""
        return self.right + self.wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What the trial showed, and what it sets.

    Parameters
    ----------
    outcomes : tuple of Outcome
        Terms alone, model alone, both; the first only where labels are too few.
    enabled : bool
        Whether the model is worth using.
    verdict : str
        Why, in words.
    allowed : float
        Wrong share that the model was held to.
    calibration : Calibration or None
        From all reviewed claims.
    threshold : float
        Least probability that decides; above 1 where none is good enough.
    least_lead : float
        Least lead that decides.
    brier, calibration_error : float
        Of the cross-fitted probabilities; NaN where there are none.
    """

    outcomes: tuple[Outcome, ...]
    enabled: bool
    verdict: str
    allowed: float = float("nan")
    calibration: Calibration | None = None
    threshold: float = _NEVER
    least_lead: float = 0.0
    brier: float = float("nan")
    calibration_error: float = float("nan")


def allowed_share(
    wrong: int, decided: int, texts_wrong: int, texts_decided: int
) -> float:
    """Return the wrong share that the model is held to.

    Parameters
    ----------
    wrong, decided : int
        Terms alone on the reviewed claims.
    texts_wrong, texts_decided : int
        Terms on the texts alone of claims that a part or an inspection decides.

    Returns
    -------
    float
        The smaller of both shares, each counted only from 30 decided claims on;
        0.01 to 0.05. Reviewed claims are chosen for being unsure, so that their
        share alone would let too much through.
    """
    shares = [_MOST_ALLOWED]
    if decided >= _FEWEST_DECIDED:
        shares.append(wrong / decided)
    if texts_decided >= _FEWEST_DECIDED:
        shares.append(texts_wrong / texts_decided)
    return max(_LEAST_ALLOWED, min(shares))


def choose_threshold(
    probability: Floats, allowed: float, *, least: float = 0.5
) -> float:
    """Return the lowest threshold that keeps the expected wrong share within bounds.

    Parameters
    ----------
    probability : ndarray, shape (n,)
        Calibrated, of claims that the terms left open.
    allowed : float
        Wrong share of the decided claims.
    least : float, default 0.5
        No threshold lies lower.

    Returns
    -------
    float
        Above 1 where no threshold will do. The expected share is the mean of one
        less the probability of all that is decided: of some dozen claims it is
        known far better from the curve through all of them than by counting the
        wrong ones. A fifth of what is allowed is held back, since the curve is an
        estimate itself.
    """
    ranked = np.sort(probability)[::-1]
    if not len(ranked):
        return _NEVER
    expected = np.cumsum(1.0 - ranked) / np.arange(1, len(ranked) + 1)
    last_of_equals = np.r_[ranked[1:] != ranked[:-1], True]
    fine = (expected <= _CAUTION * allowed + 1e-9) & (ranked >= least) & last_of_equals
    places = np.flatnonzero(fine)
    return float(ranked[places[-1]]) if len(places) else _NEVER


def _unseen_leads(task: Task, classes: tuple[str, ...]) -> tuple[Names, Floats]:
    """Return best class and lead of the reviewed claims.

    Each by a model that has seen none of its fold.
    """
    best = np.full(len(task.answers), UNCLASSIFIED, dtype=object)
    lead = np.zeros(len(task.answers))
    names = np.array(classes)
    for fold in range(FOLDS):
        seen, asked = task.fold != fold, (task.fold == fold) & task.reviewed
        if not asked.any() or not seen.any():
            continue
        weights, bias = fit_weights(
            task.rows[seen], task.answers[seen], task.worth[seen], classes
        )
        first, _, ahead = leads(task.rows[asked], weights, bias)
        best[asked], lead[asked] = names[first], ahead
    return best[task.reviewed].astype(str), lead[task.reviewed]


def _outcome(way: str, said: Names, truth: Names) -> Outcome:
    decided = said != UNCLASSIFIED
    right = int((decided & (said == truth)).sum())
    wrong = int(decided.sum()) - right
    lower, upper = wilson(wrong, max(right + wrong, 0)) if right + wrong else (0.0, 1.0)
    return Outcome(
        way=way,
        n=len(said),
        right=right,
        wrong=wrong,
        unclassified=len(said) - right - wrong,
        wrong_share=wrong / (right + wrong) if right + wrong else float("nan"),
        lower=float(lower),
        upper=float(upper),
    )


@dataclass(frozen=True, slots=True)
class _Gate:
    """What decides from the lead of the best class: learned from other claims."""

    calibration: Calibration
    threshold: float
    least_lead: float

    def __call__(self, lead: Floats) -> tuple[Floats, Bools]:
        """Return the probability of each lead, and whether it decides."""
        sure = self.calibration(lead)
        return sure, (sure >= self.threshold) & (lead >= self.least_lead)


def _gate(
    lead: Floats, right: Bools, is_open: Bools, answered: Bools, allowed: float
) -> _Gate:
    """Learn calibration and threshold from some reviewed claims.

    No lead decides that is smaller than any that was seen to: where all answers
    were right, the curve is flat and tells nothing of claims unlike those.
    """
    own = is_open & answered
    base = own if own.sum() >= _FEWEST_OPEN else answered
    if not base.any():
        return _Gate(Calibration(kind="sigmoid", x=(), y=(0.0, 0.0)), _NEVER, 0.0)
    calibration = fit_calibration(lead[base], right[base])
    sure = calibration(lead[own])
    threshold = choose_threshold(sure, allowed)
    decided = lead[own][sure >= threshold]
    return _Gate(calibration, threshold, float(decided.min()) if len(decided) else 0.0)


def try_out(task: Task, classes: tuple[str, ...], what: str) -> Trial:
    """Compare terms alone, model alone and both on the reviewed claims.

    Parameters
    ----------
    task : Task
        Training claims.
    classes : tuple of str
        Possible answers.
    what : str
        ``component`` or ``failure mode``, for the verdict.

    Returns
    -------
    Trial
        Every claim is judged by weights, calibration and threshold that come from
        other folds.
    """
    n_reviewed = int(task.reviewed.sum())
    if n_reviewed < FEWEST_LABELS:
        known = task.reviewed
        before = _outcome("terms alone", task.told[known], task.answers[known])
        return Trial(
            outcomes=(before,),
            enabled=False,
            verdict=f"off for the {what}: {n_reviewed} reviewed labels, "
            f"{FEWEST_LABELS} needed",
        )
    truth, told = task.answers[task.reviewed], task.told[task.reviewed]
    fold = task.fold[task.reviewed]
    best, lead = _unseen_leads(task, classes)
    right, answered = best == truth, best != UNCLASSIFIED
    is_open = told == UNCLASSIFIED
    terms_alone = _outcome("terms alone", told, truth)
    allowed = allowed_share(
        terms_alone.wrong, terms_alone.decided, task.texts_wrong, task.texts_decided
    )
    everywhere = np.ones(n_reviewed, dtype=bool)
    sure, said = np.zeros(n_reviewed), told.astype(object)
    alone = np.full(n_reviewed, UNCLASSIFIED, dtype=object)
    for one in np.unique(fold):
        own, others = fold == one, fold != one
        for asked, answer in ((everywhere, alone), (is_open, said)):
            gate = _gate(
                lead[others], right[others], asked[others], answered[others], allowed
            )
            sure[own], reaches = gate(lead[own])
            decides = own & asked & answered
            decides[own] &= reaches
            answer[decides] = best[decides]
    gate = _gate(lead, right, is_open, answered, allowed)
    outcomes = (
        terms_alone,
        _outcome("model alone", alone.astype(str), truth),
        _outcome("terms and model", said.astype(str), truth),
    )
    enabled, verdict = _verdict(outcomes, gate.threshold, allowed, what)
    judged = answered & is_open if (answered & is_open).any() else answered
    return Trial(
        outcomes=outcomes,
        enabled=enabled,
        verdict=verdict,
        allowed=allowed,
        calibration=gate.calibration,
        threshold=gate.threshold,
        least_lead=gate.least_lead,
        brier=brier(sure[judged], right[judged]),
        calibration_error=reliability(sure[judged], right[judged]).expected_error,
    )


def _verdict(
    outcomes: tuple[Outcome, ...], threshold: float, allowed: float, what: str
) -> tuple[bool, str]:
    """Return whether both beat the terms alone, and why."""
    terms, _, both = outcomes
    gained = both.right - terms.right
    if threshold > 1.0 or gained < _FEWEST_GAINED:
        return False, (
            f"off for the {what}: on claims it had not seen, {gained} more would be "
            f"right with the model, {_FEWEST_GAINED} needed"
        )
    added = both.wrong - terms.wrong
    # twice one side of 10 %: may the added claims be as good as is allowed, and do
    # all together stay within the limits of the terms?
    lower, _ = wilson(added, gained + added, 0.8)
    bound = max(allowed, terms.upper if terms.decided >= _FEWEST_DECIDED else allowed)
    if lower > allowed or both.wrong_share > bound:
        return False, (
            f"off for the {what}: on claims it had not seen, {gained} more would be "
            f"right, but {added} more wrong, which is above the {allowed:.1%} allowed"
        )
    return True, (
        f"on for the {what}: on claims it had not seen, {gained} more are right "
        f"and {both.wrong - terms.wrong} more wrong; {both.unclassified} in place "
        f"of {terms.unclassified} stay unclassified"
    )
