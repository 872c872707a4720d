"""How far the classification can be trusted, measured and not assumed."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from claimlens.analysis.quality_accuracy import (
    Accuracy,
    accuracy_records,
    measured,
    mode_records,
    safety_records,
    series_records,
)
from claimlens.analysis.quality_audit import put_samples, read_audit, read_labels
from claimlens.analysis.quality_bounds import bound_records
from claimlens.analysis.quality_drift import (
    arriving_months,
    language_records,
    put_texts,
    share_drift_records,
    source_records,
    unclassified_records,
    vocabulary_records,
)
from claimlens.analysis.quality_records import Record, records_frame
from claimlens.analysis.quality_reviewers import reviewer_records
from claimlens.analysis.quality_scores import (
    calibration_records,
    confusion_records,
    score_records,
)
from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["accuracy_of_all", "quality", "whole_classes"]


def whole_classes(question: Question) -> Question:
    """Return the question, or refuse a filter that quality cannot have.

    Parameters
    ----------
    question : Question
        What is asked.

    Raises
    ------
    InputError
        If it asks for single components or suppliers: a claim may be wrong by being
        among them, and by not being.
    """
    for name in ("component", "supplier"):
        if name in question.wanted:
            raise InputError(
                f"The quality of the classification is not told by {name}.",
                remedy=f"leave --{name} out; every component has its own rows",
            )
    return question


def quality(
    session: Session, settings: Settings, scope: Scope, terms: Terms
) -> pd.DataFrame:
    """Tell how often the classification is wrong, and where it drifts.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        For the level of confidence.
    scope : Scope
        Cut-off in force.
    terms : Terms
        Taxonomy, and the language of texts.

    Returns
    -------
    pandas.DataFrame
        One row a figure: ``section`` and ``measure`` say what it is, ``component``,
        ``reviewed_as``, ``month``, ``language`` and ``group`` (a version of the
        terms, a range of confidence, a source, a pair of reviewers) what it is of;
        ``value`` with ``lower`` and ``upper`` (limits of the estimate; of charts the
        limits that the months before set), ``n`` rows with ``n_eff`` of them in
        effect, ``alarm``, ``note``, ``as_of``. Shares lie in 0 to 1. What is not
        measured has no value and a note that says so. Sections and measures:

        - ``accuracy``: ``right``, ``wrong`` and ``unclassified`` (left open though a
          reviewer could tell), of all claims; ``right_where_named``;
          ``audit_reviewed``.
        - ``series``: ``right`` of each version of terms and model.
        - ``components``: ``precision``, ``recall``, ``f1``; ``macro_precision``,
          ``macro_recall``, ``macro_f1``, ``micro_f1``.
        - ``confusion``: ``confused`` and ``right``: ``component`` as read, share of
          all claims.
        - ``calibration``: ``expected_error``, ``maximum_error``, ``brier_score``,
          ``stated_confidence`` and ``share_right`` by range; where the stated scale
          is off, ``expected_error_refitted`` and ``refitted_confidence``.
        - ``failure_modes``: ``mode_right``, of the claims with the right component.
        - ``safety``: ``recall``, ``precision``.
        - ``unclassified``: ``share_by_month``, ``share_by_language``.
        - ``vocabulary``: ``unseen_words``.
        - ``class_shares``: ``divergence`` (Jensen-Shannon, base 2).
        - ``sources``: ``share``.
        - ``reviewers``: ``disagreement``, ``kappa``.
        - ``bounds``: ``claims`` (as classified, with the limits that classification
          error leaves), ``claims_estimated``, ``rate_factor``.

    Notes
    -----
    A claim of the review queue stands for itself, one of the random audit for the
    claims that it was drawn from (Horvitz, Thompson 1952). What a reviewer says is
    held against what was read when the claim was drawn: afterwards the label decides
    the claim, and would always be right.
    """
    return records_frame(_records(session, settings, scope, terms), scope.as_of)


def _records(
    session: Session, settings: Settings, scope: Scope, terms: Terms
) -> Iterator[Record]:
    level = settings.rates.confidence
    components = list(terms.taxonomy.components)
    put_samples(session)
    labels = read_labels(session, terms.taxonomy)
    audit = read_audit(session, labels, terms.taxonomy)
    session.run("intermediate/int_claims_read")
    months = session.frame("marts/quality_months")
    put_texts(session, scope.as_of)
    arriving = arriving_months(months)
    yield from accuracy_records(audit, level)
    yield from series_records(audit, level)
    yield from score_records(audit, components, level)
    yield from confusion_records(audit, components)
    yield from calibration_records(audit, level)
    yield from mode_records(audit, level)
    yield from safety_records(audit, level)
    yield from unclassified_records(months, arriving)
    yield from language_records(session, terms, level, arriving)
    yield from vocabulary_records(session)
    yield from share_drift_records(months)
    yield from source_records(months)
    yield from reviewer_records(labels, level)
    yield from bound_records(months, audit, components, level)


def accuracy_of_all(
    session: Session, settings: Settings, terms: Terms
) -> Accuracy | None:
    """Return the share of all claims that is read right, for a report.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        For the level of confidence.
    terms : Terms
        For the taxonomy.

    Returns
    -------
    Accuracy or None
        None where no randomly drawn claim has been reviewed.
    """
    put_samples(session)
    labels = read_labels(session, terms.taxonomy)
    audit = read_audit(session, labels, terms.taxonomy)
    right = audit.rows["told"].astype(object) == audit.rows["true"]
    return measured(audit, right.to_numpy(dtype=bool), settings.rates.confidence)
