"""Hand the unread claims to the classifier and keep what it answers."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from pathlib import Path

import pandas as pd

from claimlens.analysis.label_map import with_old_names
from claimlens.analysis.learning import complete_open, model_part, usable_model
from claimlens.classify.decide import explain
from claimlens.classify.learned import Learned
from claimlens.classify.many import Evidence, classify_batches
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import Terms, load_terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.second import usable_cores
from claimlens.settings import Settings

__all__ = ["explain_claim", "read_claims", "terms_of"]

# Claims that are read at once, and from how many on a second process pays.
_BATCH, _MANY = 10_000, 30_000


def terms_of(settings: Settings, folder: Path) -> Terms:
    """Return the taxonomy and terms of a workspace.

    Parameters
    ----------
    settings : Settings
        May name files of its own, relative to the workspace.
    folder : Path
        The workspace.

    Returns
    -------
    Terms
        Everything that decides, with its digest.
    """
    own = settings.classify
    if not (own.components or own.failure_modes or own.label_map or own.terms):
        return _shipped_terms(own.languages, own.replace_terms)
    taxonomy = load_taxonomy(
        folder / own.components if own.components else None,
        folder / own.failure_modes if own.failure_modes else None,
    )
    if own.label_map:
        taxonomy = with_old_names(taxonomy, folder / own.label_map)
    return load_terms(
        taxonomy,
        folder / own.terms if own.terms else None,
        languages=own.languages,
        replace=own.replace_terms,
    )


@lru_cache(maxsize=4)
def _shipped_terms(languages: tuple[str, ...], replace: tuple[str, ...]) -> Terms:
    """Return the terms of workspaces without files of their own: read once.

    They are the same for every such workspace that a process opens.
    """
    return load_terms(load_taxonomy(), languages=languages, replace=replace)


def read_claims(
    session: Session,
    settings: Settings,
    terms: Terms,
    *,
    as_of: date = date.max,
    learned: Learned | None = None,
) -> int:
    """Make ``classified_known``: every known claim with its classification.

    Claims whose evidence has not changed keep what is stored; the others are
    read now.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables in place.
    settings : Settings
        For the threshold.
    terms : Terms
        What decides.
    as_of : date, optional
        Inspections after it are not seen; by default all are.
    learned : Learned, optional
        Answers what the terms leave open, unless it has seen what comes after
        ``as_of``.

    Returns
    -------
    int
        How many claims were read now.
    """
    threshold = settings.classify.threshold
    model = usable_model(learned, settings, terms, as_of=as_of)
    session.run(
        "intermediate/int_evidence",
        {
            "terms": f"{terms.digest}/{threshold}",
            "model": model.digest,
            "as_of": as_of,
            "batch_size": _BATCH,
        },
    )
    session.run("staging/empty_classifications")
    unread = session.count("unread_claims")
    batches = (
        _evidence(session, as_of, batch) for batch in range(-(-unread // _BATCH))
    )
    cores = settings.engine.threads or usable_cores()
    for answers in classify_batches(
        batches, terms=terms, threshold=threshold, cores=cores if unread > _MANY else 1
    ):
        session.append("fresh_classifications", answers)
    complete_open(session, terms, model.learned)
    session.run("staging/kept_fallback")
    session.run("intermediate/classified_known")
    return unread


def _evidence(session: Session, as_of: date, batch: int) -> Evidence:
    """Return what is known of one batch of unread claims."""
    wanted = {"batch": batch}
    return Evidence(
        session.frame("intermediate/evidence_texts", wanted),
        session.frame("intermediate/evidence_parts", wanted),
        session.frame("intermediate/evidence_findings", {"as_of": as_of, **wanted}),
        session.frame("intermediate/evidence_labels", wanted),
    )


def explain_claim(
    session: Session,
    settings: Settings,
    terms: Terms,
    claim_no: str,
    learned: Learned | None = None,
) -> str:
    """Return in words what decided a claim and what was outvoted.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables in place.
    settings : Settings
        For the threshold.
    terms : Terms
        What decides.
    claim_no : str
        The claim.
    learned : Learned, optional
        The workspace's model, usable or not.

    Returns
    -------
    str
        Several lines.

    Raises
    ------
    InputError
        If there is no such claim.
    """
    session.run(
        "intermediate/int_evidence",
        {"terms": "", "model": "", "as_of": date.max, "batch_size": _BATCH},
    )
    session.put("unread_claims", pd.DataFrame({"claim_no": [claim_no], "batch": [0]}))
    evidence = _evidence(session, date.max, 0)
    if evidence.claims.empty:
        raise InputError(
            f"There is no claim {claim_no!r} in the warehouse.",
            remedy="check the number; claimlens classify lists all of them",
        )
    threshold = settings.classify.threshold
    told = explain(*evidence, terms=terms, threshold=threshold)
    if learned is None:
        return told
    return f"{told}\n{model_part(session, settings, terms, learned, evidence)}"
