"""Train the learned model from the warehouse, and let it complete what is open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from claimlens.classify import learned_store
from claimlens.classify.decide import classify
from claimlens.classify.learned import Learned, Lesson, learn
from claimlens.classify.learned_pruning import without_words
from claimlens.classify.learned_use import complete, model_says, unusable
from claimlens.classify.many import Evidence
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = [
    "TABLE_COLUMNS",
    "Usable",
    "complete_open",
    "forget_model",
    "keep_model",
    "model_of",
    "model_part",
    "model_table",
    "pruned_model",
    "train",
    "usable_model",
]

_BATCH = 10_000
# Claims a component that SQL hands over; the training takes some of them, and equal
# texts only once.
_MOST_A_COMPONENT = 600
TABLE_COLUMNS = (
    "question", "way", "n", "right", "wrong", "unclassified", "wrong_share", "lower",
    "upper", "used", "note",
)  # fmt: skip


class Usable(NamedTuple):
    """The model that may answer a question, and what to tell where it may not."""

    learned: Learned | None
    notes: tuple[str, ...] = ()

    @property
    def digest(self) -> str:
        """Return the model's digest, empty where none answers."""
        return self.learned.digest if self.learned is not None else ""


def model_of(folder: Path) -> Learned | None:
    """Return the learned model of a workspace, None where there is none.

    Parameters
    ----------
    folder : Path
        The workspace.

    Raises
    ------
    SourceError
        If its files are damaged or foreign.
    """
    return learned_store.load(folder)


def keep_model(learned: Learned, folder: Path) -> Learned:
    """Write a model into a workspace and return it with its digest."""
    return learned_store.save(learned, folder)


def forget_model(folder: Path) -> bool:
    """Take the model out of a workspace; tell whether there was one."""
    return learned_store.forget(folder)


def pruned_model(
    learned: Learned, erased: Sequence[str], left: Sequence[str]
) -> tuple[Learned, int]:
    """Return a model without the names that only erased texts had, and their number.

    Parameters
    ----------
    learned : Learned
        Of the workspace.
    erased, left : sequence of str
        The texts that went, and those that stay.
    """
    return without_words(learned, erased, left)


def usable_model(
    learned: Learned | None,
    settings: Settings,
    terms: Terms,
    *,
    as_of: date,
    as_known: date | None = None,
) -> Usable:
    """Return the model if it has seen nothing that the question hides.

    Parameters
    ----------
    learned : Learned or None
        Of the workspace.
    settings : Settings
        For the threshold.
    terms : Terms
        In force.
    as_of : date
        Cut-off.
    as_known : date, optional
        Known-by date.
    """
    if learned is None:
        return Usable(None)
    why = unusable(
        learned, terms, settings.classify.threshold, as_of=as_of, as_known=as_known
    )
    if why is None:
        return Usable(learned)
    return Usable(None, (why,) if why else ())


def complete_open(session: Session, terms: Terms, learned: Learned | None) -> None:
    """Let the model answer what the terms left open among the claims just read.

    Parameters
    ----------
    session : Session
        With ``fresh_classifications`` filled; ``unread_claims`` is used up.
    terms : Terms
        In force.
    learned : Learned or None
        Usable for this question; None leaves everything as it is.
    """
    if learned is None:
        return
    open_claims = session.frame("intermediate/open_claims", {"batch_size": _BATCH})
    session.put("unread_claims", open_claims)
    session.put("asked_model", open_claims[["claim_no"]])
    for batch in sorted(set(open_claims["batch"].tolist())):
        wanted = {"batch": batch}
        completed = complete(
            session.frame("intermediate/open_answers", wanted),
            session.frame("intermediate/evidence_texts", wanted),
            session.frame("intermediate/evidence_parts", wanted),
            session.frame("intermediate/evidence_labels", wanted),
            session.frame("intermediate/evidence_units", wanted),
            terms=terms,
            learned=learned,
        )
        session.put("completed", completed)
        session.run("staging/replace_fresh")


def model_part(
    session: Session,
    settings: Settings,
    terms: Terms,
    learned: Learned,
    evidence: Evidence,
) -> str:
    """Tell in words the model's part in the decision on one claim.

    Parameters
    ----------
    session : Session
        With the claim as the only row of ``unread_claims``, batch 0.
    settings : Settings
        For the threshold.
    terms : Terms
        In force.
    learned : Learned
        The workspace's model.
    evidence : Evidence
        What is known of the claim.

    Returns
    -------
    str
        Lines of plain text.
    """
    threshold = settings.classify.threshold
    usable = usable_model(learned, settings, terms, as_of=date.max)
    if usable.learned is None:
        return "; ".join(usable.notes) or "learned model: off, see claimlens learn"
    return model_says(
        classify(*evidence, terms=terms, threshold=threshold),
        evidence.claims,
        evidence.parts,
        evidence.labels,
        session.frame("intermediate/evidence_units", {"batch": 0}),
        terms=terms,
        learned=usable.learned,
    )


def train(
    session: Session, settings: Settings, terms: Terms, *, as_of: date
) -> Learned:
    """Train the model on what is known and reported by a cut-off.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables and ``classified_known`` as the terms alone
        decide.
    settings : Settings
        For the threshold.
    terms : Terms
        In force.
    as_of : date
        Claims reported after it never enter.

    Returns
    -------
    Learned
        Not yet written.
    """
    labels = session.frame("intermediate/learning_labels", {"as_of": as_of})
    decided = session.frame(
        "intermediate/learning_decided", {"as_of": as_of, "most": _MOST_A_COMPONENT}
    )
    decided = decided[~decided["claim_no"].isin(labels["claim_no"])]
    reported = pd.concat(
        [frame[["claim_no", "reported_on"]] for frame in (labels, decided)],
        ignore_index=True,
    ).drop_duplicates("claim_no")
    session.put(
        "unread_claims",
        pd.DataFrame({"claim_no": reported["claim_no"].astype("str"), "batch": 0}),
    )
    wanted = {"batch": 0}
    texts = session.frame("intermediate/evidence_texts", wanted)
    lesson = Lesson(
        texts=texts.merge(reported, on="claim_no"),
        parts=session.frame("intermediate/evidence_parts", wanted),
        findings=session.frame(
            "intermediate/evidence_findings", {"as_of": as_of, **wanted}
        ),
        labels=labels,
        decided=decided,
        units=session.frame("intermediate/evidence_units", wanted),
    )
    return learn(lesson, terms=terms, threshold=settings.classify.threshold)


def model_table(learned: Learned) -> pd.DataFrame:
    """Return the comparison of terms, model and both, one row a question and way.

    Parameters
    ----------
    learned : Learned
        With its trials.

    Returns
    -------
    DataFrame
        ``question, way, n, right, wrong, unclassified, wrong_share`` (of the
        decided), its limits ``lower, upper``, ``used`` and the verdict as
        ``note``. With too few labels only the terms alone are told.
    """
    origin = learned.origin
    taught = (
        f"learned from {origin.n_reviewed} reviewed claims, {origin.n_part} decided by "
        f"a part and {origin.n_finding} by an inspection"
    )
    rows = [
        {
            "question": question,
            **asdict(outcome),
            "used": trial.enabled,
            "note": f"{trial.verdict}; {taught}",
        }
        for question, trial in learned.trials.items()
        for outcome in trial.outcomes
    ]
    return pd.DataFrame(rows, columns=list(TABLE_COLUMNS))
