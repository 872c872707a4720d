"""Hand the unread claims to the classifier and keep what it answers."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd

from claimlens.classify.decide import classify, explain
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import Terms, load_terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["explain_claim", "read_claims", "terms_of"]

_CHUNK = 100_000


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
    taxonomy = load_taxonomy(
        folder / own.components if own.components else None,
        folder / own.failure_modes if own.failure_modes else None,
    )
    return load_terms(
        taxonomy,
        folder / own.terms if own.terms else None,
        languages=own.languages,
        replace=own.replace_terms,
    )


def read_claims(
    session: Session, settings: Settings, terms: Terms, *, as_of: date = date.max
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

    Returns
    -------
    int
        How many claims were read now.
    """
    threshold = settings.classify.threshold
    session.run(
        "intermediate/int_evidence",
        {"terms": f"{terms.digest}/{threshold}", "as_of": as_of},
    )
    session.run("staging/empty_classifications")
    unread = session.count("unread_claims")
    if unread:
        texts, parts, findings, labels = _evidence(session, as_of)
        for start in range(0, len(texts), _CHUNK):
            some = texts.iloc[start : start + _CHUNK]
            wanted = some["claim_no"]
            session.append(
                "fresh_classifications",
                classify(
                    some,
                    parts[parts["claim_no"].isin(wanted)],
                    findings[findings["claim_no"].isin(wanted)],
                    labels[labels["claim_no"].isin(wanted)],
                    terms=terms,
                    threshold=threshold,
                ),
            )
    session.run("intermediate/classified_known")
    return unread


def _evidence(
    session: Session, as_of: date
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    return (
        session.frame("intermediate/evidence_texts"),
        session.frame("intermediate/evidence_parts"),
        session.frame("intermediate/evidence_findings", {"as_of": as_of}),
        session.frame("intermediate/evidence_labels"),
    )


def explain_claim(
    session: Session, settings: Settings, terms: Terms, claim_no: str
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

    Returns
    -------
    str
        Several lines.

    Raises
    ------
    InputError
        If there is no such claim.
    """
    session.run("intermediate/int_evidence", {"terms": "", "as_of": date.max})
    session.put("unread_claims", pd.DataFrame({"claim_no": [claim_no]}))
    texts, parts, findings, labels = _evidence(session, date.max)
    if texts.empty:
        raise InputError(
            f"There is no claim {claim_no!r} in the warehouse.",
            remedy="check the number; claimlens classify lists all of them",
        )
    return explain(
        texts,
        parts,
        findings,
        labels,
        terms=terms,
        threshold=settings.classify.threshold,
    )
